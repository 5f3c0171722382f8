"""What holds for every month, whatever was reported, heard or left out.

The ordinary run tries 100 months a property (Hypothesis' own number), the battery 5,000.
"""

from collections import Counter
from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from progress.engine.check_in import Discomfort
from progress.engine.criteria import chance_at
from progress.engine.parameters import USUAL
from progress.engine.readiness import Outcome, assess, assess_block, assess_days
from routines.engine.variants import Variant
from tests.progress.engine.histories import AFTER_THE_END, a_month, histories

ROUNDING = 1e-9
# A month takes some milliseconds to draw and to assess; how long is no part of a property.
months = settings(deadline=None)


def all_days(evidence):
    """Assess the block and the days after it."""
    block = evidence.block
    days = [block.start + timedelta(days=n) for n in range(block.days + AFTER_THE_END)]
    return assess_days(evidence, days)


def shuffled(evidence, random):
    rows = {
        name: random.sample(getattr(evidence, name), len(getattr(evidence, name)))
        for name in ("check_ins", "lessons", "open_things")
    }
    return replace(evidence, **{name: tuple(found) for name, found in rows.items()})


@months
@given(histories(), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_never_matters(evidence, random):
    assert all_days(shuffled(evidence, random)) == all_days(evidence)


@months
@given(histories(), st.integers(0, 31))
def test_a_row_received_later_never_changes_an_earlier_days_answer(evidence, number):
    day = evidence.block.start + timedelta(days=number)
    known = replace(
        evidence,
        check_ins=tuple(row for row in evidence.check_ins if row.known_on <= day),
        lessons=tuple(row for row in evidence.lessons if row.known_on <= day),
    )

    assert all_days(evidence)[number] == assess(known, day)


@months
@given(histories())
def test_nobody_may_be_ready_within_seven_days_of_a_pain_that_was_told(evidence):
    for assessment in all_days(evidence):
        rests = any(
            row.day <= assessment.day <= row.day + timedelta(days=7)
            for row in evidence.check_ins
            if row.discomfort is Discomfort.PAIN and row.known_on <= assessment.day
        )
        assert not (rests and assessment.outcome is Outcome.MAY_BE_READY)


@months
@given(histories())
def test_nobody_may_be_ready_and_nothing_is_proposed_while_anything_is_open(evidence):
    for assessment in all_days(evidence):
        is_open = any(
            thing.begins <= assessment.day and (thing.ends is None or assessment.day <= thing.ends)
            for thing in evidence.open_things
        )
        assert not (is_open and assessment.outcome is Outcome.MAY_BE_READY)
        assert not (is_open and assessment.proposal)


@months
@given(histories())
def test_no_proposal_of_a_month_passes_a_cap_or_changes_two_things(evidence):
    block = evidence.block
    for step in (assessment.proposal for assessment in all_days(evidence)):
        if step is None:
            continue
        assert step.hold_seconds <= 1.25 * step.recent_hold_seconds * (1 + ROUNDING)
        assert step.duty <= 1.25 * block.duty * (1 + ROUNDING)
        changed = (step.hold != block.hold) + (step.rest != block.rest)
        assert changed == {Variant.CONTRAST: 0}.get(step.variant, 1) or (
            step.variant is Variant.COMPACT and changed == 2
        )


@months
@given(histories())
def test_an_outcome_and_its_figures_agree(evidence):
    for assessment in assess_block(evidence):
        ready = assessment.outcome is Outcome.MAY_BE_READY
        assert 0 <= assessment.chance <= 1
        assert assessment.chance == min(reading.chance for reading in assessment.criteria)
        assert (assessment.proposal is None) or ready
        assert not ready or assessment.chance >= USUAL.leave
        assert assessment.outcome is not Outcome.REPEAT or assessment.chance < USUAL.repeat_below


@given(st.floats(-4, 4), st.floats(0.01, 5), st.floats(0.01, 5))
def test_more_doubt_never_raises_a_chance_at_the_goal_nor_lowers_one_below(above, one, other):
    less, more = sorted((one, other))
    sure = chance_at(USUAL.goal + above, less, USUAL.goal)
    unsure = chance_at(USUAL.goal + above, more, USUAL.goal)

    assert unsure <= sure if above >= 0 else unsure >= sure


def test_among_the_months_are_enough_of_every_outcome_and_proposal():
    """A property about proposals would hold of nothing if none were ever drawn."""
    assessed = [assessment for seed in range(300) for assessment in assess_block(a_month(seed))]

    outcomes = Counter(assessment.outcome for assessment in assessed)
    variants = Counter(a.proposal.variant for a in assessed if a.proposal is not None)

    assert min(outcomes[outcome] for outcome in Outcome) > 50
    assert min(variants[variant] for variant in set(Variant) - {Variant.BASELINE}) > 20
