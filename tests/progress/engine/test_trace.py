"""The line of the estimate: the assessments' own figures, and statsmodels' for a local level."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from statsmodels.tsa.statespace.structural import UnobservedComponents

from progress.engine.evidence import AssignedBlock, Evidence, Lesson
from progress.engine.readiness import assess, assess_as_of, assess_block, assess_days
from progress.engine.trace import trace, trace_to
from tests.progress.engine import vectors
from tests.progress.engine.histories import histories

START = date(2026, 3, 2)
# Two rows of one day may be added up in another order.
ROUNDING = 1e-9
months = settings(deadline=None)


def a_block(**values):
    return AssignedBlock(start=START, days=28, notes=27, hold=8, rest=8, tempo=60, **values)


def all_alike(number, rating):
    return Lesson(day=START + timedelta(days=number), ratings=(rating,) * 4)


def figures(criteria):
    return [figure for one in criteria for figure in (one.level, one.deviation)]


def is_of_the_block(evidence):
    """A change of the mouth is of the block's days; invented months have later ones too."""
    return evidence.block.since is None or evidence.block.since <= evidence.block.last_day


@months
@given(histories())
def test_every_point_is_what_that_days_assessment_works_with(evidence):
    days = [START + timedelta(days=n) for n in range(evidence.block.days)]

    found = trace(evidence, days)

    assert [point.day for point in found] == days
    assessed = assess_days(evidence, days)
    assert [point.criteria for point in found] == [day.criteria for day in assessed]
    assert [point.is_readable for point in found] == [day.is_readable for day in assessed]


@pytest.mark.parametrize("scenario", vectors.SCENARIOS, ids=lambda one: one["input"]["id"])
def test_every_worked_month_has_its_own_line(scenario):
    evidence = vectors.evidence(scenario)
    days = [evidence.block.start + timedelta(days=n) for n in range(evidence.block.days)]

    assert [point.criteria for point in trace(evidence, days)] == [
        day.criteria for day in assess_block(evidence)
    ]


@months
@given(histories(), st.integers(0, 40))
def test_the_line_ends_at_the_assessment_of_the_day_asked(evidence, number):
    assume(is_of_the_block(evidence))
    day = START + timedelta(days=number)

    last = trace_to(evidence, day)[-1]

    assert last.day == min(day, evidence.block.last_day)
    asked = assess(evidence, day)
    assert figures(last.criteria) == pytest.approx(figures(asked.criteria), abs=ROUNDING)


@months
@given(histories())
def test_the_line_of_a_block_that_is_over_ends_where_the_page_says_it_stood(evidence):
    assume(is_of_the_block(evidence))
    day = evidence.block.last_day + timedelta(days=9)

    last = trace_to(evidence, day)[-1]

    page = assess_as_of(evidence, day)
    assert figures(last.criteria) == pytest.approx(figures(page.criteria), abs=ROUNDING)


def test_a_row_that_came_in_late_counts_from_its_own_day_on():
    late = replace(all_alike(4, 5), filed=START + timedelta(days=9))
    evidence = Evidence(block=a_block(), lessons=(late,))

    before = trace_to(evidence, START + timedelta(days=8))
    after = trace_to(evidence, START + timedelta(days=9))

    assert before[4].criteria[0].level == before[0].criteria[0].level
    assert after[4].criteria[0].level > before[4].criteria[0].level


def test_before_the_first_day_there_is_no_line():
    assert trace_to(Evidence(block=a_block()), START - timedelta(days=1)) == ()


def test_lessons_alone_make_the_local_level_of_statsmodels():
    """Four 3s or 4s set nothing apart, and a lesson without a 1 or 5 has a noise of .1 + .15/4."""
    heard = {2: 3, 9: 4, 16: 4, 23: 4}
    lessons = tuple(all_alike(number, rating) for number, rating in heard.items())
    series = np.array([float(heard.get(number, np.nan)) for number in range(28)])
    model = UnobservedComponents(series, "local level")
    model.ssm.initialize_known(np.array([3.2]), np.array([[0.8]]))
    model.loglikelihood_burn = 0
    reference = model.filter([0.10 + 0.15 / 4, 0.015])

    found = trace_to(Evidence(block=a_block(), lessons=lessons), START + timedelta(days=27))

    assert [point.criteria[2].level for point in found] == pytest.approx(
        list(reference.filtered_state[0]), abs=1e-9
    )
    doubts = [offset_variance(heard, number) for number in range(28)]
    assert [point.criteria[2].deviation for point in found] == pytest.approx(
        np.sqrt(reference.filtered_state_cov[0, 0] + np.array(doubts)), abs=1e-9
    )


def offset_variance(heard, number):
    """Work out the doubt about one criterion: 1/(1/.1 + n/.15), n halved in 21 days."""
    count = sum(0.5 ** ((number - day) / 21) for day in heard if day <= number)
    return 1 / (1 / 0.10 + count / 0.15)


def test_the_first_day_without_news_is_where_every_student_begins():
    first = trace_to(Evidence(block=a_block()), START)[0].criteria[0]

    assert first.level == pytest.approx(3.2)
    assert first.deviation == pytest.approx(math.sqrt(0.8 + 0.1))
