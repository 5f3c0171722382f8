"""The assessment against 110 worked scenarios, and the rules that go before the figures.

The scenarios were computed by an independent programme of the same equations; 51 are students of a
simulation, 59 were made by hand for the edges. All figures to 1e-6.
"""

from datetime import timedelta

import pytest

from progress.engine.parameters import BY_CAUTION, USUAL, Caution
from progress.engine.readiness import Outcome, assess, assess_block, assess_days
from progress.engine.reasons import Code
from tests.progress.engine import vectors
from tests.progress.engine.vectors import SCENARIOS

CLOSE = 1e-6
VARIANT_WORDS = {"contrast": "dynamic"}


def close(value):
    return pytest.approx(value, abs=CLOSE)


@pytest.fixture(params=SCENARIOS, ids=lambda scenario: scenario["input"]["id"], scope="module")
def scenario(request):
    return request.param


@pytest.fixture(scope="module")
def assessment(scenario):
    return assess(vectors.evidence(scenario), vectors.day(scenario))


def test_there_are_110_scenarios_of_all_five_outcomes():
    assert len(SCENARIOS) == 110
    assert {scenario["outcome"] for scenario in SCENARIOS} == set(Outcome)


def test_chance_bias_and_outcome_are_those_of_the_scenario(scenario, assessment):
    assert assessment.chance == close(scenario["probability"])
    assert assessment.bias == close(scenario["bias"])
    assert assessment.bias_deviation == close(scenario["bias_sd"])
    assert assessment.outcome == scenario["outcome"]


def test_each_criterion_is_where_the_scenario_has_it(scenario, assessment):
    found = {
        reading.criterion: [reading.level, reading.deviation, reading.chance]
        for reading in assessment.criteria
    }

    assert assessment.weakest == scenario["weakest"]
    assert found == {name: close(figures) for name, figures in scenario["criteria"].items()}


def test_the_reasons_come_in_the_order_of_the_scenario_with_its_figures(scenario, assessment):
    reasons = [(reason.code.value, reason.figure) for reason in assessment.reasons]

    assert reasons == [(code, close(figure)) for code, figure in scenario["reasons"]]


def test_the_proposal_is_that_of_the_scenario(scenario, assessment):
    expected = scenario["variant"]
    if expected is None:
        assert assessment.proposal is None
        return
    figures = {name: getattr(assessment.proposal, name) for name in expected}
    variant = figures.pop("variant").value

    assert VARIANT_WORDS.get(variant, variant) == expected["variant"]
    assert figures == close({name: expected[name] for name in figures})


def test_usable_days_registers_and_straight_ratings_are_those_of_the_scenario(scenario, assessment):
    registers = {
        reading.register: [reading.weight, reading.share, reading.chance]
        for reading in assessment.registers
    }

    assert assessment.usable_days == scenario["sessions"]
    assert (assessment.straight_share is not None) == scenario["straight_lined"]
    assert registers == {name: close(figures) for name, figures in scenario["registers"].items()}


def test_a_block_in_one_pass_says_the_same_as_day_by_day(scenario):
    evidence = vectors.evidence(scenario)

    whole = assess_block(evidence)

    assert len(whole) == evidence.block.days
    assert whole == tuple(assess(evidence, assessment.day) for assessment in whole)


def test_a_row_that_came_in_late_is_told_only_from_its_day():
    scenario = vectors.named("h-pain-received-late")
    evidence, day = vectors.evidence(scenario), vectors.day(scenario)

    before, after = assess_days(evidence, [day, day + timedelta(days=1)])

    assert before.outcome is Outcome.MAY_BE_READY
    assert after.outcome is Outcome.EASE_OFF
    assert after.reasons[0].code is Code.PAIN
    assert after.reasons[0].figure == (after.day - evidence.check_ins[20].day).days


def test_a_day_before_the_block_has_too_little_evidence():
    evidence = vectors.evidence(vectors.named("h-ready"))

    assessment = assess(evidence, evidence.block.start - timedelta(days=3))

    assert assessment.outcome is Outcome.TOO_LITTLE
    assert [(r.code, r.figure) for r in assessment.reasons[:3]] == [
        (Code.EARLY, 0),
        (Code.FEW, 0),
        (Code.NO_LESSON, 0),
    ]


def test_a_change_of_the_mouth_counts_only_from_its_day():
    evidence = vectors.evidence(vectors.named("h-mouth-event"))
    since = evidence.block.since
    assert since is not None

    before, on_the_day = assess_days(evidence, [since - timedelta(days=1), since])

    assert before.usable_days == 14
    assert on_the_day.usable_days == 1
    assert on_the_day.reasons[0].code is Code.EARLY


@pytest.mark.parametrize("name", ["h-stays-on", "h-ready"])
def test_a_strict_studio_hears_may_be_ready_no_earlier_than_a_bold_one(name):
    evidence = vectors.evidence(vectors.named(name))

    ready = {
        caution: [
            assessment.day
            for assessment in assess_block(evidence, BY_CAUTION[caution])
            if assessment.outcome is Outcome.MAY_BE_READY
        ]
        for caution in Caution
    }

    assert set(ready[Caution.STRICT]) < set(ready[Caution.USUAL]) < set(ready[Caution.BOLD])
    assert BY_CAUTION[Caution.USUAL] == USUAL


def test_more_caution_asks_for_a_higher_chance_to_begin_and_to_go_on():
    bold, usual, strict = (BY_CAUTION[caution] for caution in Caution)

    assert 0 < bold.leave < usual.leave < strict.leave
    assert bold.enter < usual.enter < strict.enter < 1
    assert all(one.leave < one.enter for one in (bold, usual, strict))


def test_a_strict_studio_hears_may_be_ready_too():
    evidence = vectors.evidence(vectors.named("h-ready"))

    strict = assess_block(evidence, BY_CAUTION[Caution.STRICT])

    assert Outcome.MAY_BE_READY in {assessment.outcome for assessment in strict}
