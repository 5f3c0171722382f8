"""A section's plan against the written notes of a concert F, and against music21.

The table of written notes is in data/fingering_charts.json under "concert_f": the letters follow
from the transpositions, the octaves are common practice, no published source.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import instrument as music21_instrument
from music21 import note as music21_note

from routines.engine import notes, section
from routines.engine.instruments import INSTRUMENTS, USUAL, Setup, by_id, chart, chart_note
from routines.engine.plan import BlockPlan, baseline
from routines.engine.section import Short

DATA = Path(__file__).parents[2] / "data"
CHARTS = json.loads((DATA / "fingering_charts.json").read_text())["instruments"]
CONCERT_F = {name: notes.parse(row["concert_f"]) for name, row in CHARTS.items()}
ANY = st.sampled_from(INSTRUMENTS)
# What music21 has as classes of its own, and the transposition that a class of it keeps.
MUSIC21 = {
    "trumpet_bb": music21_instrument.Trumpet,
    "horn_f": music21_instrument.Horn,
    "trombone_tenor": music21_instrument.Trombone,
    "tuba_bbb": music21_instrument.Tuba,
}


def from_concert_f(name: str, **changes) -> BlockPlan:
    """Write a plan that starts on an instrument's concert F of the table and goes down a third."""
    start = CONCERT_F[name]
    fields = {"start_note": start, "low_note": start - 4} | changes
    return replace(baseline(by_id(name)), **fields)


@pytest.mark.parametrize("one", CONCERT_F)
@pytest.mark.parametrize("other", CONCERT_F)
def test_a_concert_f_is_written_for_every_player_as_in_the_table(one, other):
    carried = section.in_concert(from_concert_f(one), by_id(other), USUAL)

    assert notes.name(carried.start_note) == CHARTS[other]["concert_f"]


@pytest.mark.parametrize("one", MUSIC21)
@pytest.mark.parametrize("other", MUSIC21)
def test_music21_hears_the_same_note_from_both_players(one, other):
    def heard(name: str, midi: int) -> int:
        note = music21_note.Note(midi)
        interval = MUSIC21[name]().transposition
        sounding = note.transpose(interval) if interval else note
        return int(sounding.pitch.pitchClass)

    plan = from_concert_f(one)
    carried = section.in_concert(plan, by_id(other), USUAL)

    for own, others in [(plan.start_note, carried.start_note), (plan.low_note, carried.low_note)]:
        assert heard(one, own) == heard(other, others)


@given(ANY, ANY, st.integers(0, 60), st.integers(0, 13), st.integers(0, 24))
def test_everybody_sounds_the_plans_notes_on_a_note_of_their_own_chart(one, other, at, down, up):
    start = one.lowest + at % (one.highest - one.lowest + 1)
    low, top = max(start - down, one.lowest), min(start + up, one.highest)
    plan = replace(baseline(one), start_note=start, low_note=low, top_note=top)

    carried = section.in_concert(plan, other, Setup(four_valves=False))

    assert (other.sounding(carried.start_note) - one.sounding(start)) % 12 == 0
    for note in (carried.start_note, carried.low_note, carried.highest_note):
        assert chart_note(other, note, Setup(four_valves=False)).written == note
    short = section.falls_short(plan, carried)
    assert carried.start_note - carried.low_note + short.below == start - low
    assert carried.highest_note - carried.start_note + short.above == top - start
    # A walk ends early at the end of the chart alone.
    assert short.below == 0 or carried.low_note == chart(other, Setup(four_valves=False))[0].written
    assert short.above == 0 or carried.highest_note == other.highest
    assert min(short.below, short.above) >= 0


@given(ANY, ANY, st.integers(-6, 6))
def test_nobody_starts_further_than_half_an_octave_from_the_own_start_note(one, other, at):
    plan = replace(baseline(one), start_note=one.start_note + at, low_note=one.low_note)

    carried = section.in_concert(plan, other, USUAL)

    assert abs(carried.start_note - other.start_note) <= 6


@pytest.mark.parametrize(("trumpet", "cornet"), [("G4", "G4"), ("C#5", "C#5"), ("G5", "G5")])
def test_two_players_of_one_pitch_read_the_same_notes(trumpet, cornet):
    plan = replace(baseline(by_id("trumpet_bb")), start_note=notes.parse(trumpet))

    carried = section.in_concert(plan, by_id("cornet_bb"), USUAL)

    assert notes.name(carried.start_note) == cornet


# Two instruments of one transposition read one part: derived from the transposition alone.
@pytest.mark.parametrize("other", ["cornet_bb", "flugelhorn_bb"])
def test_players_of_one_pitch_read_the_same_notes_over_the_whole_chart(other):
    trumpet = by_id("trumpet_bb")
    for start in range(trumpet.lowest, trumpet.highest + 1):
        plan = replace(baseline(trumpet), start_note=start, low_note=trumpet.lowest)

        assert section.in_concert(plan, by_id(other), USUAL).start_note == start


def test_an_octave_above_the_usual_one_is_so_for_the_whole_section():
    plan = replace(baseline(by_id("trumpet_bb")), start_note=notes.parse("G5"))

    carried = section.in_concert(plan, by_id("trombone_tenor"), USUAL)

    assert notes.name(carried.start_note) == "F4"


# A trumpet's written A flat 4 sounds F sharp 4, and a horn's C sharp 4 and C sharp 5 sound it an
# octave below or at pitch; both are six half steps from the horn's G4. Likewise with F sharp 4 and
# the E flat horn. Which of two equally near notes is taken is common practice, no published source.
@pytest.mark.parametrize(
    ("start", "other", "written"), [("Ab4", "horn_f", "C#5"), ("F#4", "horn_eb_alto", "C#4")]
)
def test_of_two_notes_half_an_octave_away_the_one_on_the_plans_side_is_taken(start, other, written):
    plan = replace(baseline(by_id("trumpet_bb")), start_note=notes.parse(start))

    carried = section.in_concert(plan, by_id(other), USUAL)

    assert notes.name(carried.start_note) == written


def test_a_start_below_three_valves_is_an_octave_higher_on_the_same_instrument():
    # D2 takes the fourth valve: three end six half steps under the second partial B flat, at E2.
    plan = replace(
        baseline(by_id("euphonium_bc")),
        start_note=notes.parse("D2"),
        low_note=notes.parse("C2"),
    )

    carried = section.in_concert(plan, by_id("euphonium_bc"), Setup(four_valves=False))

    assert [notes.name(carried.start_note), notes.name(carried.low_note)] == ["D3", "C3"]


def test_what_does_not_fit_is_counted_in_half_steps():
    # D4 down 13 half steps would be C sharp 3; three valves end at F sharp 3.
    plan = baseline(by_id("trumpet_bb"))

    carried = section.in_concert(plan, by_id("horn_eb_alto"), USUAL)

    assert [notes.name(carried.start_note), notes.name(carried.low_note)] == ["D4", "F#3"]
    assert section.falls_short(plan, carried) == Short(below=5)
    assert not section.falls_short(plan, plan)


@given(ANY, ANY, st.integers(0, 13), st.integers(0, 12))
def test_a_plan_carried_over_has_as_many_steps_from_the_own_start_note(one, other, down, up):
    low, top = max(one.start_note - down, one.lowest), one.start_note + up
    plan = replace(baseline(one), low_note=low, top_note=top, hold=12, tempo=72)

    carried = section.carry(plan, other, USUAL)

    assert (carried.instrument, carried.start_note) == (other.id, other.start_note)
    assert carried.low_note == max(other.start_note - (one.start_note - low), other.lowest)
    assert carried.top_note == min(other.start_note + up, other.highest)
    assert (carried.hold, carried.tempo) == (12, 72)


def test_a_plan_is_carried_to_a_player_of_the_same_instrument_with_other_valves():
    tuba, three = by_id("tuba_bbb"), Setup(four_valves=False)
    plan = replace(baseline(tuba), low_note=tuba.lowest)

    carried = section.carry(plan, tuba, three)

    assert (carried.setup, carried.low_note) == (three, chart(tuba, three)[0].written)
    assert carried.low_note > plan.low_note
    assert section.carry(plan, tuba, USUAL) == plan


@pytest.mark.parametrize("way", [section.carry, section.in_concert])
def test_an_open_top_is_open_after_both_ways_of_carrying(way):
    assert way(baseline(by_id("trumpet_bb")), by_id("horn_f"), USUAL).top_note is None


@pytest.mark.parametrize(
    ("short", "anything"),
    [(Short(), False), (Short(below=1), True), (Short(above=1), True)],
)
def test_a_walk_falls_short_when_either_end_does(short, anything):
    assert bool(short) is anything


def test_an_open_top_stays_open_for_everybody():
    carried = section.in_concert(from_concert_f("horn_f"), by_id("tuba_f"), USUAL)

    assert carried.top_note is None


def test_beside_an_open_top_only_the_lower_end_falls_short():
    open_top = baseline(by_id("trumpet_bb"))
    ended = replace(open_top, top_note=open_top.start_note + 12)
    shorter = replace(open_top, low_note=open_top.low_note + 2)

    assert section.falls_short(ended, shorter) == Short(below=2)
    assert section.falls_short(open_top, replace(ended, low_note=shorter.low_note)) == Short(
        below=2
    )
