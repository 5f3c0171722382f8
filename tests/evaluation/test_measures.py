"""The evaluation itself: its measures on cases counted by hand, and its seeds."""

from dataclasses import replace

import pytest

from progress.engine.evidence import AssignedBlock, CheckIn, Evidence
from progress.engine.readiness import Outcome
from tests.evaluation import page
from tests.evaluation.evaluate import cohort
from tests.evaluation.measures import Case, calibration_error, judged, measured
from tests.evaluation.people import FIRST_DAY, Person, logit, the_date
from tests.evaluation.rules import RULES, Verdict
from tests.evaluation.sudden import Sudden, sudden

DAYS = 28


def a_case(*, ready_from=None, flags=(), pains=(), chance=0.5, outcome=Outcome.KEEP_GOING):
    """A student who is ready from a day on, and the days on which a rule said so."""
    person = Person(
        profile="learner",
        traits={},
        days=DAYS,
        skill=(),
        played=(),
        pains=frozenset(pains),
        lesson_days=(3, 10, 17, 24),
        ready=tuple(ready_from is not None and day >= ready_from for day in range(DAYS + 8)),
    )
    block = AssignedBlock(start=FIRST_DAY, days=DAYS, notes=27, hold=8, rest=8, tempo=60)
    verdicts = tuple(
        Verdict(ready=day in flags, chance=chance, outcome=outcome) for day in range(DAYS)
    )
    return Case(person=person, evidence=Evidence(block=block), verdicts=verdicts)


@pytest.mark.parametrize(
    ("ready_from", "flag", "is_false"), [(20, 20, False), (20, 13, False), (20, 12, True)]
)
def test_a_flag_is_false_when_nobody_is_ready_within_seven_days(ready_from, flag, is_false):
    assert a_case(ready_from=ready_from, flags=[flag]).is_false == is_false


def test_the_delay_runs_from_the_first_ready_day_but_not_before_day_eleven():
    cases = [
        a_case(ready_from=0, flags=[14]),
        a_case(ready_from=15, flags=[20]),
        a_case(ready_from=15, flags=[24]),
    ]

    assert measured(cases)["median delay, days"] == 5


def test_missed_leaves_out_whoever_hurt_or_was_not_ready_all_week():
    cases = [
        a_case(ready_from=21),
        a_case(ready_from=21, flags=[27]),
        a_case(ready_from=22),
        a_case(ready_from=21, pains=[20]),
    ]

    assert measured(cases)["missed at block end"] == 0.5


def test_days_after_a_pain_and_changes_are_counted():
    case = a_case(flags=[10, 11, 20], pains=[11, 13])

    found = measured([case])

    assert found["ready said within 7 days after a pain"] == 2
    assert found["changes per student-month"] == 4


def test_who_is_told_to_repeat_is_counted_apart_for_ready_and_not():
    cases = [
        a_case(ready_from=0, outcome=Outcome.REPEAT),
        a_case(ready_from=0),
        a_case(outcome=Outcome.REPEAT),
    ]

    found = measured(cases)

    assert found["ready students told to repeat"] == 0.5
    assert found["not-ready students told to repeat"] == 1


def test_brier_score_and_calibration_error_of_a_few_chances_worked_by_hand():
    cases = [a_case(ready_from=0, chance=0.7), a_case(chance=0.1)]

    found = measured(cases)

    assert found["Brier score, days 14, 21 and 28"] == pytest.approx((0.3**2 + 0.1**2) / 2)
    assert calibration_error([(0.7, True), (0.75, False), (0.1, False)]) == pytest.approx(
        (2 * 0.225 + 0.1) / 3
    )


def test_the_same_seed_makes_the_same_students():
    once, again = list(cohort(7, students=34)), list(cohort(7, students=34))

    assert once == again
    assert once != list(cohort(8, students=34))
    assert len({person.profile for person, _ in once}) == 17


@pytest.mark.parametrize("name", RULES)
def test_every_rule_says_something_on_every_day(name):
    people = list(cohort(7, students=34))

    for case in judged(people, RULES[name]):
        assert len(case.verdicts) == case.person.days


def test_the_assessment_never_says_ready_after_a_pain_on_a_cohort_with_pain():
    cases = judged(list(cohort(5, students=170)), RULES["assessment"])

    assert sum(len(case.person.pains) for case in cases) > 5
    assert measured(cases)["ready said within 7 days after a pain"] == 0


def a_faller(*, true_fall):
    """A student whose own answers fall from 4 to 2 after ten days; the skill by so much."""
    case = a_case()
    high = logit(0.8)
    skill = [(high,) * 4] * 10 + [(logit(0.8 - true_fall),) * 4] * (DAYS - 10)
    rows = tuple(
        CheckIn(day=the_date(day), filed=the_date(day), ratings=(4 if day < 10 else 2,) * 4)
        for day in range(13)
    )
    person = replace(case.person, skill=tuple(skill))
    return replace(case, person=person, evidence=replace(case.evidence, check_ins=rows))


def test_a_sudden_change_begins_once_and_is_of_noise_where_the_skill_did_not_fall():
    real, noise = a_faller(true_fall=0.08), a_faller(true_fall=0.07)

    # Two of the last three answers are low after the twelfth check-in, so that the mean of the
    # three days fell by two thirds: by 0.053 and by 0.047.
    assert sudden([real]) == Sudden(begun=1, standing=2 / 13, of_noise=0)
    assert sudden([noise]).of_noise == 1
    assert sudden([a_case()]) == Sudden(begun=0, standing=0, of_noise=None)


def test_a_target_that_is_missed_is_said_on_the_page():
    target = page.TARGETS["false of first flags"]

    assert target.is_met(0.13)
    assert not target.is_met(0.14)
    assert not replace(target, at_least=True).is_met(0.12)
