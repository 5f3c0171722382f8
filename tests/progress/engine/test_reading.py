"""When a month can be read at all, whose ratings count, and what the registers say.

The limits are choices of this program, named in parameters.py.
"""

from dataclasses import replace
from datetime import timedelta

import pytest

from progress.engine import registers
from progress.engine.check_in import Discomfort, Register
from progress.engine.evidence import AssignedBlock, CheckIn, Evidence, Lesson
from progress.engine.level import Level
from progress.engine.parameters import USUAL
from progress.engine.readiness import Outcome, assess, assess_block
from progress.engine.reasons import Code, Reason
from progress.engine.replay import Standing, standings
from tests.progress.engine.histories import START

BLOCK = AssignedBlock(start=START, days=28, notes=27, hold=8, rest=8, tempo=60)
LESSON_DAYS = (3, 10, 17, 24)


def the_day(number):
    return START + timedelta(days=number - 1)


def a_check_in(number, ratings=(4, 5, 4, 5), *, filed=None, **other):
    return CheckIn(day=the_day(number), filed=the_day(filed or number), ratings=ratings, **other)


def a_month(check_ins, *, heard=(4, 4, 4, 4), lesson_days=LESSON_DAYS):
    lessons = tuple(Lesson(day=the_day(number), ratings=heard) for number in lesson_days)
    return Evidence(block=BLOCK, check_ins=tuple(check_ins), lessons=lessons)


def codes(assessment):
    return [reason.code for reason in assessment.reasons]


@pytest.mark.parametrize(("upto", "is_straight"), [(7, False), (8, True)])
def test_eight_days_of_one_number_are_needed_to_leave_own_ratings_out(upto, is_straight):
    evidence = a_month([a_check_in(number, (5, 5, 5, 5)) for number in range(1, upto + 1)])

    assessment = assess(evidence, the_day(12))

    assert (assessment.straight_share == 1) == is_straight
    assert (Code.STRAIGHT in codes(assessment)) == is_straight
    assert (Code.BIAS in codes(assessment)) != is_straight


@pytest.mark.parametrize(("others", "is_straight"), [(2, True), (3, False)])
def test_ninety_five_of_a_hundred_alike_are_needed_to_leave_own_ratings_out(others, is_straight):
    """Ten days, forty ratings: 38 alike are 95 %, 37 are not."""
    rows = [a_check_in(number, (5, 5, 5, 5)) for number in range(1, 11 - others)]
    rows += [a_check_in(number, (5, 5, 5, 4)) for number in range(11 - others, 11)]

    assessment = assess(a_month(rows), the_day(12))

    assert (assessment.straight_share is not None) == is_straight


def test_without_own_ratings_the_level_is_that_of_the_teacher_alone():
    straight = [a_check_in(number, (5, 5, 5, 5)) for number in range(1, 20)]

    with_them, without = (assess(a_month(rows), the_day(20)) for rows in (straight, []))

    assert with_them.criteria == without.criteria
    assert with_them.ask == without.ask


@pytest.mark.parametrize(
    ("number", "outcome"), [(23, Outcome.KEEP_GOING), (24, Outcome.REPEAT), (28, Outcome.REPEAT)]
)
def test_a_repeat_is_spoken_of_only_in_the_last_five_days(number, outcome):
    rows = [a_check_in(day, (2, 3, 2, 3)) for day in range(1, 29)]

    assert assess(a_month(rows, heard=(2, 3, 2, 3)), the_day(number)).outcome is outcome


def test_late_rows_count_as_practice_and_never_as_ratings():
    punctual = [a_check_in(number) for number in range(1, 12)]
    late = [a_check_in(number, (1, 1, 1, 1), filed=number + 3, effort=6) for number in (5, 7)]

    with_them = assess(a_month([*punctual, *late]), the_day(14))
    without = assess(a_month(punctual), the_day(14))

    assert with_them.chance == without.chance
    assert with_them.usable_days == without.usable_days
    assert with_them.late == 2
    assert Reason(Code.LATE, 2) in with_them.reasons


def test_a_single_late_row_is_told():
    rows = [a_check_in(number) for number in range(1, 12)]

    assessment = assess(a_month([*rows, a_check_in(5, filed=8)]), the_day(14))

    assert Reason(Code.LATE, 1) in assessment.reasons


@pytest.mark.parametrize(
    ("share", "outcome"), [(1, Outcome.KEEP_GOING), (1.001, Outcome.REPEAT)], ids=["at", "below"]
)
def test_a_repeat_is_spoken_of_below_the_chance_named_and_not_at_it(share, outcome):
    month = a_month([a_check_in(day, (2, 3, 2, 3)) for day in range(1, 29)], heard=(2, 3, 2, 3))
    chance = assess(month, the_day(28)).chance

    parameters = replace(USUAL, repeat_below=share * chance)

    assert assess(month, the_day(28), parameters).outcome is outcome


def test_own_ratings_that_run_neither_above_nor_below_are_told_as_nothing():
    """Where no gap is assumed and none can be learned, the gap is 0."""
    no_gap = replace(USUAL, first_bias=0.0, first_bias_variance=0.0)
    month = a_month([a_check_in(number) for number in range(1, 15)])

    assert Reason(Code.BIAS, 0) in assess(month, the_day(14), no_gap).reasons


def test_a_check_in_of_today_is_fresh_however_strict_the_limit():
    same_day = replace(USUAL, fresh_days=0)
    month = a_month([a_check_in(number) for number in range(1, 15)])

    assert Code.STALE not in codes(assess(month, the_day(14), same_day))
    assert Reason(Code.STALE, 1) in assess(month, the_day(15), same_day).reasons


def test_a_standing_before_the_evidence_is_on_no_day_and_has_no_ratings_alike():
    level = Level(USUAL.first_level, USUAL.first_level_variance, 0.0, 0.0)

    standing = Standing(first=the_day(20), day=the_day(14), level=level, heard=level)

    assert standing.number_of_day == 0
    assert standing.same_share == 0


def test_each_number_is_counted_under_itself():
    month = a_month([a_check_in(1, (1, 2, 2, None)), a_check_in(2, (4, 5, 5, 5))])

    ((_, standing),) = standings(month, [the_day(3)], USUAL)

    assert standing.tally == (1, 2, 0, 1, 3)


@pytest.mark.parametrize(("share", "is_on"), [(1, True), (1.001, False)], ids=["at", "below"])
def test_may_be_ready_goes_on_at_the_chance_named(share, is_on):
    month = a_month([a_check_in(day) for day in range(1, 25)], heard=(5, 4, 5, 4))
    best = max(assessment.chance for assessment in assess_block(month))

    parameters = replace(USUAL, enter=share * best)

    outcomes = {assessment.outcome for assessment in assess_block(month, parameters)}
    assert (Outcome.MAY_BE_READY in outcomes) == is_on


def test_of_two_rows_alike_but_for_discomfort_the_order_given_never_matters():
    """Discomfort is counted among the last five, and one of the two is the fifth from the end."""
    calm, sore = Discomfort.NONE, Discomfort.MILD
    two = [a_check_in(10, discomfort=how) for how in (calm, sore)]
    rest = [a_check_in(day, discomfort=how) for day, how in enumerate([calm, calm, sore, sore], 11)]

    one, other = (assess(a_month([*first, *rest]), the_day(14)) for first in (two, two[::-1]))

    assert one == other


def test_a_month_with_nothing_in_it_says_all_that_is_missing():
    assessment = assess(Evidence(block=BLOCK), the_day(14))

    assert assessment.outcome is Outcome.TOO_LITTLE
    assert codes(assessment) == [Code.FEW, Code.NO_LESSON, Code.CHANCE]
    assert assessment.registers[0].share is None


def test_a_lesson_without_an_answer_is_no_lesson_rating():
    rows = [a_check_in(number) for number in range(1, 15)]
    evidence = a_month(rows, heard=(None, None, None, None))

    assessment = assess(evidence, the_day(14))

    assert assessment.lessons == 0
    assert Reason(Code.NO_LESSON, 0) in assessment.reasons


def test_the_chance_to_ask_for_is_the_one_a_lesson_with_four_fours_would_give():
    rows = [a_check_in(number) for number in range(1, 15)]
    evidence = a_month(rows, heard=(3, 4, 3, 4), lesson_days=(3, 10))
    today = the_day(14)

    heard = Lesson(day=today, ratings=(4, 4, 4, 4))
    after = assess(replace(evidence, lessons=(*evidence.lessons, heard)), today)

    assert assess(evidence, today).ask == pytest.approx(after.chance, abs=1e-12)


@pytest.mark.parametrize(("answers", "is_told"), [(2, False), (3, True)])
def test_a_register_is_spoken_of_from_three_answers_on(answers, is_told):
    rows = [a_check_in(28, trouble=frozenset({Register.HIGH})) for _ in range(answers)]

    found = registers.readings(rows, the_day(28), USUAL)

    assert found[2].weight == answers
    assert found[2].share == 0
    told = registers.keep_range(found, USUAL)
    assert (Reason(Code.REGISTER_HIGH, 0) in told) == is_told


@pytest.mark.parametrize(("chance", "is_told"), [(0.5, False), (0.499, True)])
def test_a_register_with_just_the_chance_that_is_asked_is_not_spoken_of(chance, is_told):
    reading = registers.RegisterReading(register=Register.LOW, weight=3, share=0.7, chance=chance)

    told = registers.keep_range([reading], USUAL)

    assert told == ((Reason(Code.REGISTER_LOW, 0.7),) if is_told else ())


def test_a_single_answer_has_its_share():
    rows = [a_check_in(14, trouble=frozenset({Register.LOW}))]

    low, middle, _ = registers.readings(rows, the_day(28), USUAL)

    assert (low.share, middle.share) == (0, 1)


def test_a_trouble_of_two_weeks_ago_weighs_half():
    rows = [a_check_in(14, trouble=frozenset(Register)), a_check_in(28, trouble=frozenset())]

    low, *_ = registers.readings(rows, the_day(28), USUAL)

    assert low.weight == pytest.approx(1.5)
    assert low.share == pytest.approx(1 / 1.5)
