"""The walk in open formats, read back by programs of other people.

MusicXML 4.0 (W3C Community Group) is read by music21; a Standard MIDI File (MIDI Association,
RP-001) by pretty_midi. What they hear is held against the seconds and the sounding pitches of the
timeline, which has its own checks.
"""

from dataclasses import replace
from io import BytesIO

import pytest
from music21 import converter, dynamics, note, stream, tempo

from routines.engine import instruments, timeline, variants
from routines.engine.dynamics import parse
from routines.engine.plan import BlockPlan, baseline
from routines.engine.variants import Variant
from routines.exports import midi, musicxml

PLANS = [
    pytest.param(variants.apply(variant, baseline(player)), id=f"{player.id}-{variant}")
    for player in instruments.INSTRUMENTS
    for variant in Variant
]
TRUMPET = baseline(instruments.by_id("trumpet_bb"))


def score_of(plan: BlockPlan, **values) -> stream.Score:
    text = musicxml.write(plan, title="Long tones", **values).decode()
    read = converter.parseData(text, format="musicxml")
    assert isinstance(read, stream.Score)
    return read


def sounded(plan: BlockPlan, **values) -> list[tuple[int, float, float]]:
    """What music21 hears: sounding MIDI number, start and length in counts, ties put together."""
    heard = score_of(plan, **values).toSoundingPitch().stripTies().flatten()
    return [
        (one.pitch.midi, float(one.offset), float(one.quarterLength))
        for one in heard.getElementsByClass(note.Note)
    ]


def asked(plan: BlockPlan) -> list[tuple[int, float, float]]:
    cycle = plan.hold + plan.rest
    return [
        (step.sounding, float(step.index * cycle), float(plan.hold))
        for step in timeline.build(plan).steps
    ]


@pytest.mark.parametrize("plan", PLANS)
def test_music21_hears_the_same_notes_at_the_same_counts(plan):
    assert sounded(plan) == asked(plan)


@pytest.mark.parametrize("plan", PLANS[::7])
def test_music21_reads_the_written_notes_the_clef_and_the_tempo(plan):
    score = score_of(replace(plan, tempo=72))

    part = score.parts[0].flatten()
    notes = score.parts[0].stripTies().flatten().getElementsByClass(note.Note)
    written = [one.pitch.midi for one in notes]
    assert written == [step.written for step in timeline.build(plan).steps]
    assert part.getElementsByClass(tempo.MetronomeMark)[0].number == 72
    assert part.getElementsByClass("Clef")[0].sign == {
        "treble": "G", "bass": "F", "tenor": "C",
    }[plan.setup.clef or plan.player.clefs[0]]  # fmt: skip


@pytest.mark.parametrize("hold", range(2, 14))
def test_every_length_of_a_hold_is_written_in_heads_that_add_up(hold):
    plan = replace(TRUMPET, hold=hold, rest=5, top_note=69)

    assert {length for _, _, length in sounded(plan)} == {float(hold)}


def test_loud_and_soft_by_note_stand_where_they_change():
    plan = replace(TRUMPET, top_note=69, dynamics=parse("by-note:f,p"))

    marks = score_of(plan).parts[0].flatten().getElementsByClass(dynamics.Dynamic)

    assert [mark.value for mark in marks][:4] == ["f", "p", "f", "p"]
    assert len(marks) == timeline.build(plan).totals.notes


@pytest.mark.parametrize(("day", "level"), [(1, "f"), (2, "p")])
def test_the_day_of_the_block_says_how_loud(day, level):
    plan = replace(TRUMPET, top_note=69, dynamics=parse("by-day:f,p"))

    marks = score_of(plan, day=day).parts[0].flatten().getElementsByClass(dynamics.Dynamic)

    assert [mark.value for mark in marks] == [level]


@pytest.mark.parametrize(("shape", "wedges"), [("swell", 2), ("fade", 1), ("grow", 1)])
def test_a_shape_inside_each_note_is_a_wedge(shape, wedges):
    plan = replace(TRUMPET, top_note=69, dynamics=parse(f"inside:{shape}"))

    found = score_of(plan).parts[0].recurse().getElementsByClass(dynamics.DynamicWedge)

    assert len(found) == wedges * timeline.build(plan).totals.notes


def heard(plan: BlockPlan):
    from pretty_midi import PrettyMIDI  # noqa: PLC0415 - slow to load

    return PrettyMIDI(BytesIO(midi.write(plan, title="Long tones")))


@pytest.mark.parametrize("plan", PLANS)
def test_pretty_midi_hears_the_same_pitches_at_the_same_seconds(plan):
    tones = next(one for one in heard(plan).instruments if not one.is_drum)

    count_in = timeline.seconds(midi.COUNT_IN, plan.tempo)
    steps = timeline.build(plan).steps
    assert [one.pitch for one in tones.notes] == [step.sounding for step in steps]
    for one, step in zip(tones.notes, steps, strict=True):
        assert one.start == pytest.approx(count_in + step.start, abs=1e-6)
        assert one.end == pytest.approx(count_in + step.start + step.hold, abs=1e-6)


@pytest.mark.parametrize("plan", PLANS[::9])
def test_pretty_midi_hears_a_click_on_every_count_up_to_the_last_release(plan):
    click = next(one for one in heard(plan).instruments if one.is_drum)

    totals = timeline.build(plan).totals
    counts = midi.COUNT_IN + round(totals.session_seconds * plan.tempo / 60)
    starts = [one.start for one in click.notes]
    assert starts == pytest.approx([number * 60 / plan.tempo for number in range(counts)])
    begins = [one.start for one in click.notes if one.pitch == midi.HIGH_CLICK]
    assert len(begins) == 2 * totals.notes - 1 if plan.rest else totals.notes


def test_louder_is_a_higher_velocity_and_a_shape_moves_the_expression():
    loud = replace(TRUMPET, top_note=69, dynamics=parse("by-note:f,p"))
    grows = replace(TRUMPET, top_note=69, dynamics=parse("inside:grow"))

    tones = next(one for one in heard(loud).instruments if not one.is_drum)
    assert tones.notes[0].velocity > tones.notes[1].velocity
    moved = next(one for one in heard(grows).instruments if not one.is_drum)
    first = [c.value for c in moved.control_changes if c.time < moved.notes[0].end]
    assert first == sorted(first)
    assert (first[0], first[-1]) == (50, 127)


@pytest.mark.parametrize("plan", PLANS[::9])
def test_verovio_draws_every_notehead_and_every_rest(plan):
    """verovio engraves the file; a hold of 8 counts is two heads, a rest of 8 two rests."""
    from verovio import toolkit  # noqa: PLC0415 - slow to load

    engraver = toolkit()
    engraver.setOptions({"breaks": "none", "adjustPageHeight": True})
    assert engraver.loadData(musicxml.write(plan, title="Long tones").decode())

    drawn = engraver.renderToSVG(1)
    count = timeline.build(plan).totals.notes
    assert drawn.count('class="note"') == count * -(-plan.hold // 4)
    assert drawn.count('class="rest"') == (count - 1) * -(-plan.rest // 4)
