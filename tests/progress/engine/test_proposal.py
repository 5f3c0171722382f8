"""What is proposed, and the two caps it never passes.

The counts of the variants (12 and 8, 8 and 4, 4 and 4 from 8 and 8) are common practice, no
published source; hold-seconds are notes x hold x 60 / tempo by definition.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine import proposal
from progress.engine.check_in import Criterion
from progress.engine.criteria import CriterionReading
from progress.engine.evidence import AssignedBlock, CheckIn
from progress.engine.parameters import USUAL
from progress.engine.proposal import Recent
from progress.engine.reasons import Code, Reason
from routines.engine.variants import Aim, Variant
from tests.progress.engine import histories
from tests.progress.engine.vectors import VECTORS

ROUNDING = 1e-9
START = histories.START


def a_block(*, hold=8, rest=8, notes=25, tempo=60, **other):
    return AssignedBlock(
        start=START, days=28, notes=notes, hold=hold, rest=rest, tempo=tempo, **other
    )


def a_recent(block, *, seconds=None, completed=1.0, effort=5.0, trend=0.0):
    return Recent(
        hold_seconds=block.hold_seconds if seconds is None else seconds,
        completed=completed,
        effort=effort,
        effort_trend=trend,
    )


def a_reading(criterion=Criterion.SOUND, level=4.0):
    return CriterionReading(criterion=criterion, level=level, deviation=0.3, chance=0.8)


def offered(block, weakest=None, **recent):
    return proposal.offer(block, a_recent(block, **recent), weakest or a_reading(), USUAL)


@pytest.mark.parametrize("case", VECTORS["hold_seconds"]["cases"])
def test_hold_seconds_are_notes_times_hold_at_the_tempo(case):
    block = a_block(notes=case["notes"], hold=case["hold"], tempo=case["tempo"])

    assert block.hold_seconds == pytest.approx(case["s"])


@pytest.mark.parametrize(
    ("aim", "variant", "now", "final"),
    [
        (Aim.ENDURANCE, Variant.ENDURANCE, (10, 8), (12, 8)),
        (Aim.RECOVERY, Variant.RECOVERY, (8, 5), (8, 4)),
        (Aim.CLARITY, Variant.COMPACT, (4, 4), (4, 4)),
        (Aim.DYNAMICS, Variant.CONTRAST, (8, 8), (8, 8)),
    ],
)
def test_each_aim_leads_from_hold_8_rest_8_to_the_counts_of_its_variant(aim, variant, now, final):
    step = offered(a_block(aim=aim)).proposal

    assert step is not None
    assert step.variant is variant
    assert (step.hold, step.rest) == now
    assert (step.final_hold, step.final_rest) == final


@pytest.mark.parametrize(
    ("weakest", "recent", "variant", "reason"),
    [
        (Criterion.ATTACK, {}, Variant.COMPACT, Reason(Code.WEAKEST, 4.0)),
        (Criterion.SOUND, {"effort": 4.0}, Variant.ENDURANCE, Reason(Code.EFFORT, 4.0)),
        (
            Criterion.SOUND,
            {"effort": 4.0, "completed": 0.95},
            Variant.ENDURANCE,
            Reason(Code.EFFORT, 4.0),
        ),
        (Criterion.SOUND, {"trend": -0.1}, Variant.RECOVERY, Reason(Code.EFFORT_TREND, -0.1)),
        (Criterion.SOUND, {}, Variant.CONTRAST, Reason(Code.NO_LOAD, 0)),
        (Criterion.SOUND, {"effort": None}, Variant.CONTRAST, Reason(Code.NO_LOAD, 0)),
        (
            Criterion.SOUND,
            {"effort": 4.0, "completed": 0.94},
            Variant.CONTRAST,
            Reason(Code.NO_LOAD, 0),
        ),
    ],
)
def test_without_an_aim_the_answers_choose(weakest, recent, variant, reason):
    offer = offered(a_block(), a_reading(weakest), **recent)

    assert offer.proposal is not None
    assert offer.proposal.variant is variant
    assert offer.reasons == (reason,)


@pytest.mark.parametrize("aim", [Aim.ENDURANCE, Aim.RECOVERY])
def test_hard_playing_turns_more_playing_into_a_contrast(aim):
    offer = offered(a_block(aim=aim), effort=7.0)

    assert offer.proposal is not None
    assert offer.proposal.variant is Variant.CONTRAST
    assert offer.reasons == (Reason(Code.AIM, 1), Reason(Code.EFFORT_HIGH, 7.0))


@pytest.mark.parametrize(
    ("block", "recent", "why"),
    [
        ({"aim": Aim.ENDURANCE, "hold": 12}, {}, Reason(Code.NO_CHANGE, 0)),
        ({"aim": Aim.ENDURANCE, "rest": 0}, {}, Reason(Code.NO_CHANGE, 0)),
        ({"aim": Aim.RECOVERY, "rest": 4}, {}, Reason(Code.NO_CHANGE, 0)),
        ({"aim": Aim.CLARITY, "hold": 4, "rest": 4}, {}, Reason(Code.NO_CHANGE, 0)),
        ({"aim": Aim.DYNAMICS, "contrasts": True}, {}, Reason(Code.NO_CHANGE, 0)),
        ({"aim": Aim.RECOVERY, "hold": 2, "rest": 2}, {}, Reason(Code.CAP, 1.25)),
        ({"aim": Aim.ENDURANCE}, {"seconds": 170.0}, Reason(Code.CAP, 1.25)),
        ({"aim": Aim.DYNAMICS}, {"seconds": 159.9}, Reason(Code.CAP, 1.25)),
        ({"aim": Aim.DYNAMICS}, {"seconds": 0.0}, Reason(Code.CAP, 1.25)),
        ({"aim": Aim.DYNAMICS}, {"completed": 0.79}, Reason(Code.INCOMPLETE, 0.79)),
    ],
)
def test_where_nothing_can_be_proposed_the_last_reason_says_why(block, recent, why):
    offer = offered(a_block(**block), **recent)

    assert offer.proposal is None
    assert offer.reasons == (Reason(Code.AIM, 1), why)


def test_four_fifths_of_the_walk_are_enough_for_a_proposal():
    assert offered(a_block(aim=Aim.DYNAMICS), completed=0.8).proposal is not None


def test_a_longer_version_played_before_does_not_lift_the_duty_past_its_cap():
    block = a_block(hold=4, rest=32, aim=Aim.ENDURANCE)

    step = offered(block, seconds=4 * block.hold_seconds).proposal

    assert step is not None
    assert step.hold == 5
    assert step.duty <= USUAL.load_cap * block.duty


def test_played_lately_is_the_mean_of_what_was_planned_and_completed():
    block = a_block()
    days = [date(2026, 3, day) for day in range(1, 10)]
    rows = [CheckIn(day=day, filed=day, completed=0.5) for day in days[:3]]
    rows += [CheckIn(day=day, filed=day, completed=1.0) for day in days[3:6]]
    rows += [CheckIn(day=days[6], filed=days[6])]
    rows += [CheckIn(day=day, filed=day, completed=1.0, planned=100.0) for day in days[7:]]

    now = proposal.recent(rows, block, USUAL)

    assert now.hold_seconds == pytest.approx((0.5 * 200 + 3 * 200 + 2 * 100) / 6)
    assert now.completed == pytest.approx(5.5 / 6)
    assert (now.effort, now.effort_trend) == (None, None)


def test_a_trend_of_effort_goes_by_the_date_and_needs_five_efforts():
    days = [date(2026, 3, day) for day in (1, 2, 3, 10, 20)]
    rows = [CheckIn(day=day, filed=day, effort=10 - day.day / 2) for day in days]

    assert proposal.recent(rows, a_block(), USUAL).effort_trend == pytest.approx(-0.5)
    assert proposal.recent(rows[1:], a_block(), USUAL).effort_trend is None


def test_a_proposal_exactly_at_the_cap_is_made():
    step = offered(a_block(aim=Aim.DYNAMICS), seconds=160.0).proposal

    assert step is not None
    assert step.ratio == USUAL.load_cap


@given(
    histories.blocks(),
    st.floats(0, 6),
    st.none() | st.floats(0, 1),
    st.none() | st.floats(0, 10),
    st.sampled_from(Criterion),
)
def test_no_proposal_passes_either_cap_from_any_counts(block, played, completed, effort, weak):
    seconds = played * block.hold_seconds

    step = offered(
        block, a_reading(weak), seconds=seconds, completed=completed, effort=effort, trend=-0.1
    ).proposal

    if step is not None:
        assert step.hold_seconds <= USUAL.load_cap * seconds * (1 + ROUNDING)
        assert step.duty <= USUAL.load_cap * block.duty * (1 + ROUNDING)


@given(histories.blocks(), st.floats(0.5, 4), st.sampled_from(Criterion))
def test_exactly_one_variable_changes_and_a_step_lies_on_the_way(block, played, weak):
    step = offered(block, a_reading(weak), seconds=played * block.hold_seconds, effort=3.0).proposal

    if step is None:
        return
    assert {
        Variant.ENDURANCE: block.hold < step.hold <= step.final_hold
        and step.rest == step.final_rest == block.rest,
        Variant.RECOVERY: block.rest > step.rest >= step.final_rest
        and step.hold == step.final_hold == block.hold,
        Variant.COMPACT: step.hold == step.final_hold == (block.hold + 1) // 2
        and step.rest == step.final_rest == (block.rest + 1) // 2,
        Variant.CONTRAST: (step.hold, step.rest) == (block.hold, block.rest)
        and not block.contrasts,
    }[step.variant]


@given(st.integers(2, 32), st.integers(0, 32), st.sampled_from([20, 60, 66, 97, 240]))
def test_no_larger_whole_count_would_have_fitted_under_the_cap(hold, rest, tempo):
    block = a_block(hold=hold, rest=rest, tempo=tempo, aim=Aim.ENDURANCE)

    step = offered(block).proposal

    fitting = [
        longer
        for longer in range(hold + 1, min(rest * 3 // 2, 32) + 1)
        if 4 * longer <= 5 * hold and 4 * longer * (hold + rest) <= 5 * hold * (longer + rest)
    ]
    assert (step.hold if step else None) == max(fitting, default=None)
