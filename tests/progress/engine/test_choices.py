"""What may follow a month, in figures.

Counts of the variants: common practice, no published source. Seconds are worked out by hand from
notes x counts x 60 / tempo.
"""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine.choices import (
    STEP,
    Choice,
    is_harder,
    options,
    session_of,
    suggested,
)
from progress.engine.proposal import Proposal
from progress.engine.readiness import Outcome
from routines.engine import instruments
from routines.engine.dynamics import parse
from routines.engine.instruments import Setup
from routines.engine.plan import baseline
from routines.engine.variants import Variant, variables

TRUMPET = replace(baseline(instruments.by_id("trumpet_bb")), top_note=79)
# G4 down to F#3 and, after lifting off, G4 up to G5: 14 + 13 notes.
NOTES = 27


def a_step(**values: Any) -> Proposal:
    fields: dict[str, Any] = {
        "variant": Variant.ENDURANCE,
        "hold": 10,
        "rest": 8,
        "final_hold": 12,
        "final_rest": 8,
        "hold_seconds": 270.0,
        "recent_hold_seconds": 216.0,
        "ratio": 1.25,
        "duty": 10 / 18,
    }
    return Proposal(**(fields | values))


def offered(today=TRUMPET, *, reached=None, lately=216.0, proposal=None):
    return options(today, reached=reached, recent_hold_seconds=lately, proposal=proposal)


def test_the_step_comes_first_and_alone_is_suggested():
    found = offered(proposal=a_step())

    assert found[0].key == STEP
    assert [one.is_suggested for one in found] == [True, False, False, False, False]
    assert (found[0].plan.hold, found[0].plan.rest) == (10, 8)


def test_a_step_of_a_quarter_more_is_not_much_yet():
    found = offered(proposal=a_step(hold=10), lately=216.0)

    # 27 notes of 10 s against the 216 s that were played.
    assert (found[0].ratio, found[0].is_much) == (1.25, False)


def test_a_step_to_a_contrast_changes_the_dynamics_alone():
    found = offered(proposal=a_step(variant=Variant.CONTRAST, hold=8, rest=8))

    assert found[0].key == STEP
    assert found[0].plan == replace(TRUMPET, dynamics=parse("by-day:f,p"))


def test_every_option_says_its_minutes_its_playing_and_how_that_compares():
    by_key = {one.key: one for one in offered()}

    endurance = by_key["endurance"]
    # 27 notes of 12 s and 26 rests of 8 s: 324 + 208.
    assert endurance.session.notes == NOTES
    assert endurance.session.hold_seconds == 324
    assert endurance.session.session_seconds == 532
    assert endurance.ratio == pytest.approx(1.5)
    assert endurance.is_much
    # 27 notes of 4 s and 26 rests of 4 s: half of the 216 s that were played.
    assert by_key["compact"].session.session_seconds == 212
    assert by_key["compact"].ratio == pytest.approx(0.5)
    assert not by_key["compact"].is_much


def test_what_would_change_nothing_is_not_offered():
    assert "baseline" not in {one.key for one in offered()}
    assert "endurance" not in {one.key for one in offered(replace(TRUMPET, hold=12))}


def test_a_step_that_is_the_variant_itself_is_offered_once():
    found = offered(proposal=a_step(variant=Variant.COMPACT, hold=4, rest=4))

    assert [one.key for one in found if one.plan.hold == 4] == [STEP]


def test_an_open_top_counts_up_to_the_note_that_was_reached():
    open_top = replace(TRUMPET, top_note=None)

    # G4 to C5 are six notes, after the fourteen down to F#3.
    assert session_of(open_top, 72).notes == 14 + 6
    assert session_of(TRUMPET, 72).notes == NOTES


@pytest.mark.parametrize(
    ("changes", "harder"),
    [
        ({"hold": 9}, True),
        ({"rest": 4}, True),
        ({"dynamics": parse("by-day:f,p")}, True),
        ({"top_note": 80}, True),
        ({"tempo": 50}, True),
        ({"hold": 4, "rest": 4}, False),
        ({"dynamics": parse("p")}, False),
        ({"rest": 12}, False),
        ({}, False),
    ],
)
def test_harder_is_longer_playing_less_rest_or_louder(changes, harder):
    assert is_harder(TRUMPET, replace(TRUMPET, **changes)) is harder


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"hold": 12}, ("hold",)),
        ({"hold": 4, "rest": 4}, ("cycle",)),
        ({"hold": 12, "rest": 4}, ("hold", "rest")),
        ({"hold": 4, "rest": 4, "tempo": 72}, ("cycle", "tempo")),
        ({"top_note": 77, "dynamics": parse("p")}, ("top_note", "dynamics")),
        ({"setup": Setup(four_valves=True)}, ()),
        ({"setup": Setup(four_valves=True), "tempo": 72}, ("tempo",)),
        ({}, ()),
    ],
)
def test_a_cycle_made_shorter_is_one_variable(changes, expected):
    assert variables(TRUMPET, replace(TRUMPET, **changes)) == expected


@given(hold=st.integers(2, 32), rest=st.integers(1, 32), lately=st.floats(10, 2000))
def test_no_option_is_todays_plan_and_none_comes_twice(hold, rest, lately):
    today = replace(TRUMPET, hold=hold, rest=rest)

    found = offered(today, lately=lately)

    plans = [one.plan for one in found]
    assert today not in plans
    assert all(plans.count(plan) == 1 for plan in plans)
    for one in found:
        assert one.session.hold_seconds == NOTES * one.plan.hold
        assert one.is_much == (one.session.hold_seconds > 1.25 * lately * (1 + 1e-9))


def test_only_ready_and_repeat_speak_for_a_choice():
    assert suggested(Outcome.MAY_BE_READY) is Choice.MOVE_ON
    assert suggested(Outcome.REPEAT) is Choice.REPEAT
    for outcome in (Outcome.KEEP_GOING, Outcome.TOO_LITTLE, Outcome.EASE_OFF):
        assert suggested(outcome) is None
