"""The blocks to begin with, against the ranges of the trade in data/fingering_charts.json.

Which ranges are published (a band-music publisher's grading table, Grades 1 and 2) and which are
from memory stands in that file. The counts of a beginner are common practice, no published source.
"""

import json
from pathlib import Path

import pytest

from routines.engine import notes
from routines.engine.grades import Tier, first_block
from routines.engine.instruments import INSTRUMENTS, Setup, by_id
from routines.engine.plan import baseline
from studio.words import Grade

DATA = Path(__file__).parents[2] / "data"
CHARTS = json.loads((DATA / "fingering_charts.json").read_text())["instruments"]
EVERY = [pytest.param(instrument, id=instrument.id) for instrument in INSTRUMENTS]


@pytest.mark.parametrize("tier", [Tier.BEGINNER, Tier.INTERMEDIATE])
@pytest.mark.parametrize("instrument", EVERY)
def test_a_first_block_lies_inside_the_range_of_its_grade(instrument, tier):
    plan = first_block(tier, instrument)

    assert plan.top_note is not None
    assert [notes.name(plan.low_note), notes.name(plan.top_note)] == CHARTS[instrument.id][tier]
    assert plan.start_note == instrument.start_note


def test_a_beginner_holds_half_as_long_as_the_others():
    horn = by_id("horn_f")

    counts = [(first_block(tier, horn).hold, first_block(tier, horn).rest) for tier in Tier]

    assert counts == [(4, 4), (8, 8), (8, 8)]


@pytest.mark.parametrize("instrument", EVERY)
def test_an_open_grade_begins_with_the_whole_walk(instrument):
    assert first_block(Tier.OPEN, instrument) == baseline(instrument)


@pytest.mark.parametrize("instrument", EVERY)
@pytest.mark.parametrize("tier", Tier)
def test_three_valves_are_enough_for_every_first_block_of_a_grade(instrument, tier):
    three = Setup(four_valves=False)

    assert first_block(tier, instrument, three).setup == three


def test_the_tiers_are_the_grades_of_the_students():
    assert {tier.value for tier in Tier} == {grade.value for grade in Grade}
