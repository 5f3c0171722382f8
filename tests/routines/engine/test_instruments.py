"""Instruments against music21, a published table of second partials and a grading table."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import instrument as music21_instrument

from routines.engine import instruments, notes
from routines.engine.fingering import Mechanism, above
from routines.engine.instruments import INSTRUMENTS, Clef, InstrumentError, Setup, by_id, chart

DATA = Path(__file__).parents[2] / "data"
CHARTS = json.loads((DATA / "fingering_charts.json").read_text())["instruments"]
TRANSPOSITION = json.loads((DATA / "trade_pitch.json").read_text())["transposition"]["cases"]
EVERY = [pytest.param(instrument, id=instrument.id) for instrument in INSTRUMENTS]
ANY = st.sampled_from(INSTRUMENTS)
# music21 has these as classes of its own. Its matching of names is not used: it knows no cornet,
# flugelhorn or euphonium and takes every horn for one in F.
MUSIC21 = {
    "trumpet_bb": music21_instrument.Trumpet,
    "horn_f": music21_instrument.Horn,
    "horn_double_f_bb": music21_instrument.Horn,
    "trombone_tenor": music21_instrument.Trombone,
    "trombone_bass": music21_instrument.BassTrombone,
    "tuba_bbb": music21_instrument.Tuba,
    "tuba_cc": music21_instrument.Tuba,
    "tuba_eb": music21_instrument.Tuba,
    "tuba_f": music21_instrument.Tuba,
}


def test_there_are_twenty_instruments_each_once():
    assert len(set(instruments.ids())) == 20
    assert instruments.ids() == tuple(CHARTS)


@pytest.mark.parametrize("id_", MUSIC21)
def test_music21_transposes_the_instrument_alike(id_):
    interval = MUSIC21[id_]().transposition

    assert by_id(id_).transposition == (interval.semitones if interval else 0)


@pytest.mark.parametrize("id_", ["trumpet_bb", "trombone_tenor"])
def test_music21_has_the_same_lowest_note_without_pedals(id_):
    lowest = MUSIC21[id_]().lowestNote

    assert lowest is not None
    assert notes.name(by_id(id_).lowest) == lowest.nameWithOctave


@pytest.mark.parametrize("case", TRANSPOSITION, ids=lambda c: f"{c['instrument']}-{c['written']}")
def test_a_written_note_sounds_as_published(case):
    written = notes.parse(case["written"])

    assert notes.name(by_id(case["instrument"]).sounding(written)) == case["sounding"]


@pytest.mark.parametrize("instrument", EVERY)
def test_the_open_second_partial_sounds_as_in_the_published_table(instrument):
    second = above(instrument.fundamental_written, 2)

    sounding = notes.name(instrument.sounding(second))

    assert sounding == CHARTS[instrument.id]["second_partial_sounding"]


# Starts, ends and ranges; which are published and which common practice stands in the file.
@pytest.mark.parametrize("instrument", EVERY)
def test_walk_ranges_and_clefs_are_those_of_the_trade(instrument):
    row = CHARTS[instrument.id]

    assert list(instrument.clefs) == row["clefs"]
    assert instrument.transposition == row["transposition"]
    assert [notes.name(instrument.start_note), notes.name(instrument.low_note)] == [
        row["start"],
        row["low"],
    ]
    for name in ("beginner", "intermediate"):
        tier = getattr(instrument, name)
        assert [notes.name(tier.low), notes.name(tier.high)] == row[name]


# A slide has none, whose positions stand in the chart in the place of valves.
@pytest.mark.parametrize("instrument", EVERY)
def test_an_instrument_has_as_many_valves_as_its_chart_presses(instrument):
    pressed = {row["usual"].split("/")[0] for row in CHARTS[instrument.id]["chart"]}
    has_slide = instrument.mechanism is Mechanism.SLIDE

    assert instrument.valves == (0 if has_slide else int(max("".join(pressed).replace("T", ""))))


# The names of brass band parts: common practice, no published source.
@pytest.mark.parametrize(
    ("id_", "name", "in_britain"),
    [
        ("flugelhorn_bb", "B-flat flugelhorn", "B flat flugel"),
        ("horn_eb_alto", "E-flat alto horn", "E flat tenor horn"),
    ],
)
def test_a_brass_band_has_names_of_its_own(id_, name, in_britain):
    instrument = by_id(id_)

    assert (instrument.name, instrument.name_uk) == (name, in_britain)


@pytest.mark.parametrize("instrument", EVERY)
def test_every_note_has_the_names_numbers_and_hertz_of_the_table(instrument):
    rows = CHARTS[instrument.id]["chart"]

    for note, row in zip(chart(instrument), rows, strict=True):
        assert (note.name, note.written, note.sounding) == (
            row["written"],
            row["midi"],
            row["sounding"],
        )
        assert (notes.sharp_name(note.written), notes.flat_name(note.written)) == (
            row["sharp"],
            row["flat"],
        )
        assert note.hertz == pytest.approx(row["hz"], abs=0.0005)


@pytest.mark.parametrize("instrument", EVERY)
def test_the_first_walk_and_the_ranges_lie_on_the_chart(instrument):
    ends = [
        instrument.start_note,
        instrument.low_note,
        *(instrument.beginner.low, instrument.beginner.high),
        *(instrument.intermediate.low, instrument.intermediate.high),
    ]

    assert instrument.lowest <= min(ends)
    assert max(ends) <= instrument.highest


def test_three_valves_end_the_chart_at_the_three_valve_bottom():
    tuba = by_id("tuba_bbb")

    bottoms = [
        chart(tuba, Setup(four_valves=four, compensating=compensating))[0].name
        for four, compensating in [(None, None), (False, None), (True, False)]
    ]

    # Derived: six, eleven and ten half steps under the second partial Bb1.
    assert bottoms == ["B0", "E1", "C1"]


# Common practice, no published source: all of these come with three or with four valves.
@pytest.mark.parametrize("instrument", EVERY)
def test_baritones_euphoniums_and_tubas_alone_come_with_three_or_four_valves(instrument):
    assert instrument.valves_vary is (instrument.family in {"baritone", "euphonium", "tuba"})


def test_a_horn_is_never_given_a_fourth_valve():
    horn = by_id("horn_f")

    assert chart(horn, Setup(four_valves=True)) == chart(horn)


def test_an_unknown_instrument_is_refused_with_the_list():
    with pytest.raises(
        InstrumentError, match=r"Instrument 'kazoo': choose one of trumpet_bb, .*tuba_f\."
    ):
        by_id("kazoo")


def test_a_note_off_the_chart_is_refused_with_its_ends():
    with pytest.raises(InstrumentError, match=r"Note F3: B-flat trumpet goes from F#3 to E6\."):
        instruments.chart_note(by_id("trumpet_bb"), notes.parse("F3"))


# Scientific pitch notation has a name for the numbers 0 to 127 of MIDI alone.
@pytest.mark.parametrize(("midi", "given"), [(-1, "-1"), (0, "C-1"), (127, "G9"), (128, "128")])
def test_a_note_off_the_chart_is_named_where_it_has_a_name(midi, given):
    with pytest.raises(InstrumentError, match=f"^Note {given}: B-flat trumpet goes from"):
        instruments.chart_note(by_id("trumpet_bb"), midi)


# The sixteenth partial lies four octaves over the fundamental, written C3.
def test_an_instrument_whose_chart_ends_above_its_partials_is_refused():
    too_high = replace(by_id("trumpet_bb"), highest=notes.parse("D7"))

    with pytest.raises(InstrumentError, match=r"^Note C#7: B-flat trumpet cannot play it\.$"):
        chart(too_high)


def test_a_student_reads_the_chosen_clef_if_the_instrument_has_it():
    trombone, trumpet = by_id("trombone_tenor"), by_id("trumpet_bb")

    assert instruments.clef(trombone) is Clef.BASS
    assert instruments.clef(trombone, Setup(clef=Clef.TENOR)) is Clef.TENOR
    assert instruments.clef(trumpet, Setup(clef=Clef.TENOR)) is Clef.TREBLE


@given(ANY, ANY, st.integers(-13, 9))
def test_a_note_moved_to_another_instrument_keeps_its_steps_from_the_start(one, other, steps):
    moved = instruments.move(one.start_note + steps, one, other)

    assert moved == other.start_note + steps


@given(ANY, ANY, st.integers(0, 127))
def test_a_moved_note_is_always_on_the_other_chart(one, other, midi):
    moved = instruments.move(midi, one, other, Setup(four_valves=False))

    assert instruments.chart_note(other, moved, Setup(four_valves=False)).written == moved
