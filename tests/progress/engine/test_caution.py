"""When to ease off. The limits are choices of this program and no measure of injury."""

from dataclasses import replace
from datetime import timedelta

import pytest

from progress.engine.check_in import Discomfort
from progress.engine.evidence import AssignedBlock, CheckIn, Evidence, Lesson
from progress.engine.readiness import Outcome, assess
from progress.engine.reasons import Code, Reason
from tests.progress.engine.histories import START

BLOCK = AssignedBlock(start=START, days=28, notes=27, hold=8, rest=8, tempo=60)


def the_day(number):
    return START + timedelta(days=number - 1)


def a_month(*, upto=28, effort=lambda _: 4, minutes=lambda _: 10, discomforts=None):
    hurt = discomforts or {}
    rows = [
        CheckIn(
            day=the_day(number),
            filed=the_day(number),
            ratings=(4, 5, 4, 5),
            effort=effort(number),
            minutes=minutes(number),
            completed=1.0,
            discomfort=hurt.get(number, Discomfort.NONE),
        )
        for number in range(1, upto + 1)
    ]
    heard = [Lesson(day=the_day(number), ratings=(5, 5, 5, 5)) for number in (3, 10, 17, 24)]
    return Evidence(block=BLOCK, check_ins=tuple(rows), lessons=tuple(heard))


def first(evidence, number):
    assessment = assess(evidence, the_day(number))
    return assessment.outcome, assessment.reasons[0]


def test_pain_stops_for_the_day_and_the_seven_after():
    evidence = a_month(discomforts={14: Discomfort.PAIN})

    outcomes = {number: first(evidence, number)[0] for number in range(13, 23)}

    assert outcomes.pop(13) is Outcome.MAY_BE_READY
    assert outcomes.pop(22) is Outcome.MAY_BE_READY
    assert set(outcomes.values()) == {Outcome.EASE_OFF}


def test_the_last_pain_is_the_one_that_counts():
    evidence = a_month(discomforts={14: Discomfort.PAIN, 18: Discomfort.PAIN})

    assert first(evidence, 20) == (Outcome.EASE_OFF, Reason(Code.PAIN, 2))


def test_pain_after_the_block_is_looked_at_too():
    evidence = a_month(upto=31, discomforts={30: Discomfort.PAIN})

    assert first(evidence, 29)[0] is Outcome.MAY_BE_READY
    assert first(evidence, 31) == (Outcome.EASE_OFF, Reason(Code.PAIN, 1))


@pytest.mark.parametrize(("days", "eases"), [((26, 27), False), ((24, 26, 28), True)])
def test_three_of_the_last_five_with_discomfort_are_enough(days, eases):
    evidence = a_month(discomforts=dict.fromkeys(days, Discomfort.MILD))

    outcome, reason = first(evidence, 28)

    assert (outcome is Outcome.EASE_OFF) == eases
    assert (reason == Reason(Code.MILD, 3)) == eases


def test_what_hurt_before_the_last_five_is_not_counted_with_them():
    evidence = a_month(discomforts=dict.fromkeys((20, 21, 22, 23, 28), Discomfort.MILD))

    assert first(evidence, 28)[0] is Outcome.MAY_BE_READY


@pytest.mark.parametrize(
    ("hard", "minutes", "eases"),
    [(8, 8, True), (7, 14, False), (8, 6, False), (8, 7.5, False)],
    ids=["hard and much", "much alone", "hard alone", "one and a half times"],
)
def test_a_week_of_much_and_hard_playing_eases_off(hard, minutes, eases):
    """Weeks before: 4 x 10 a day. Last week: 64 a day (1.6 times), 98 not hard, 48 (1.2 times)."""
    evidence = a_month(
        effort=lambda number: hard if number > 21 else 4,
        minutes=lambda number: minutes if number > 21 else 10,
    )

    outcome, reason = first(evidence, 28)

    assert (outcome is Outcome.EASE_OFF) == eases
    if eases:
        assert reason.code is Code.OVERLOAD
        assert reason.figure == pytest.approx(1.6)


def test_a_week_is_held_against_the_mean_of_the_three_before():
    """Minutes a day in six weeks; the last is hard: 8 x 16 against 4 x (40 + 10 + 10) / 3."""
    weeks = (100, 100, 40, 10, 10, 16)
    month = a_month(
        upto=42,
        effort=lambda number: 8 if number > 35 else 4,
        minutes=lambda number: weeks[(number - 1) // 7],
    )

    outcome, reason = first(replace(month, block=replace(BLOCK, days=42)), 42)

    assert (outcome, reason.code) == (Outcome.EASE_OFF, Code.OVERLOAD)
    assert reason.figure == pytest.approx(1.6)


@pytest.mark.parametrize(("before", "eases"), [(0, False), (0.5, True)])
def test_a_hard_week_after_next_to_nothing_is_far_above_it(before, eases):
    evidence = a_month(
        effort=lambda number: 8 if number > 21 else 4,
        minutes=lambda number: 8 if number > 21 else before * (number == 7),
    )

    assert (first(evidence, 28)[0] is Outcome.EASE_OFF) == eases


@pytest.mark.parametrize(("last", "eases"), [(20, False), (21, True)])
def test_the_load_needs_two_whole_weeks_before(last, eases):
    evidence = a_month(upto=last, effort=lambda n: 9 if n > last - 7 else 4, minutes=lambda _: 10)

    assert (first(evidence, last)[0] is Outcome.EASE_OFF) == eases


def test_an_unanswered_effort_is_no_load_and_no_effort():
    evidence = a_month(effort=lambda _: None)

    assert first(evidence, 28)[0] is Outcome.MAY_BE_READY


def test_a_discomfort_told_in_the_session_counts_without_a_check_in():
    told = CheckIn(day=the_day(27), filed=the_day(27), discomfort=Discomfort.PAIN)
    month = a_month()
    evidence = replace(month, check_ins=(*month.check_ins, told))

    assert first(evidence, 28) == (Outcome.EASE_OFF, Reason(Code.PAIN, 1))
