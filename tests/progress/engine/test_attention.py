"""Who to look in on. The seven days of silence are a decision of this program."""

from collections.abc import Sequence
from datetime import date, timedelta

import pytest

from progress.engine.attention import (
    QUIET_AFTER_DAYS,
    Answers,
    Code,
    Reason,
    Standing,
    look_in,
    repeated,
    standing,
    sudden_change,
)
from progress.engine.check_in import Criterion
from progress.engine.readiness import Outcome
from routines.engine.pauses import Pause

TODAY = date(2026, 11, 25)


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def test_somebody_who_reports_and_is_well_needs_no_look():
    assert look_in(day=TODAY, asked_since=ago(20), hurts=[], news=[ago(1), ago(3)]) == ()


@pytest.mark.parametrize(("silent", "told"), [(0, False), (6, False), (7, True), (8, True)])
def test_silence_counts_from_the_seventh_day_without_news(silent, told):
    reasons = look_in(day=TODAY, asked_since=ago(20), hurts=[], news=[ago(silent)])

    assert [reason.code is Code.QUIET for reason in reasons] == [True] * told
    assert QUIET_AFTER_DAYS == 7


def test_silence_says_how_long_and_since_when():
    reasons = look_in(day=TODAY, asked_since=ago(20), hurts=[], news=[ago(15), ago(9)])

    assert reasons == (Reason(code=Code.QUIET, figure=9, since=ago(9)),)


@pytest.mark.parametrize(("begun", "told"), [(5, False), (6, True)])
def test_somebody_who_never_reported_is_given_the_first_seven_days(begun, told):
    reasons = look_in(day=TODAY, asked_since=ago(begun), hurts=[], news=[])

    assert bool(reasons) is told


def test_news_from_before_the_block_does_not_make_the_silence_longer():
    reasons = look_in(day=TODAY, asked_since=ago(3), hurts=[], news=[ago(30)])

    assert reasons == ()


@pytest.mark.parametrize("asked_since", [None, TODAY + timedelta(days=1)])
def test_silence_is_no_reason_while_nothing_is_asked(asked_since):
    assert look_in(day=TODAY, asked_since=asked_since, hurts=[], news=[ago(30)]) == ()


def test_news_of_days_to_come_are_no_news_yet():
    tomorrow = TODAY + timedelta(days=1)

    reasons = look_in(day=TODAY, asked_since=ago(20), hurts=[], news=[ago(8), tomorrow])

    assert reasons == (Reason(code=Code.QUIET, figure=8, since=ago(8)),)


def test_what_hurt_comes_first_and_says_when_it_was_told_last():
    reasons = look_in(day=TODAY, asked_since=ago(20), hurts=[ago(12), ago(2)], news=[ago(8)])

    assert reasons[0] == Reason(code=Code.HURT, figure=2, since=ago(2))
    assert [reason.code for reason in reasons] == [Code.HURT, Code.QUIET]


def test_what_hurt_counts_without_a_block_too():
    reasons = look_in(day=TODAY, asked_since=None, hurts=[TODAY], news=[])

    assert reasons == (Reason(code=Code.HURT, figure=0, since=TODAY),)


@pytest.mark.parametrize(
    ("first", "last", "silent"),
    [(12, 3, 8), (12, 4, 9), (30, 12, 12), (5, None, 12), (12, None, None), (11, 0, None)],
)
def test_the_days_of_a_pause_are_no_silence(first, last, silent):
    pause = Pause(first_day=ago(first), last_day=None if last is None else ago(last))

    reasons = look_in(day=TODAY, asked_since=ago(40), hurts=[], news=[ago(18)], pauses=[pause])

    assert [(reason.figure, reason.paused) for reason in reasons] == (
        [] if silent is None else [(silent, 18 - silent)]
    )


def days_of(*rows: tuple[int, int], effort: Sequence[int] = ()) -> list[Answers]:
    """Check-ins a day apart, up to today: (attack, sound) of each, the others always 4."""
    efforts = list(effort) or [4] * len(rows)
    return [
        Answers(day=ago(len(rows) - 1 - place), ratings=(*row, 4, 4), effort=efforts[place])
        for place, row in enumerate(rows)
    ]


def test_two_rows_that_fall_by_one_are_a_sudden_change():
    (reason,) = sudden_change(days_of(*[(4, 4)] * 7, (3, 3), (4, 3), (3, 3)))

    assert (reason.code, reason.figure, reason.since) == (Code.FALL, 2, ago(2))
    assert reason.fallen == (Criterion.ATTACK, Criterion.SOUND)


@pytest.mark.parametrize(
    "rows",
    [
        [(4, 4)] * 7 + [(3, 4)] * 3,
        [(4, 4)] * 7 + [(4, 4), (3, 3), (4, 4)],
        [(4, 4)] * 4 + [(1, 1)] * 3,
        [(4, 4)] * 9,
        [(1, 1)] * 3,
        [(3, 3)] * 7 + [(5, 5)] * 3,
        [],
    ],
)
def test_one_row_or_one_bad_day_or_too_few_days_are_none(rows):
    assert sudden_change(days_of(*rows)) == ()


def test_only_the_seven_before_the_last_three_are_looked_at():
    long_ago = [(5, 5)] * 10

    assert sudden_change(days_of(*long_ago, *[(3, 3)] * 10)) == ()


@pytest.mark.parametrize(("now", "told"), [(6, False), (8, True), (10, True)])
def test_effort_that_rises_by_four_is_a_sudden_change(now, told):
    found = sudden_change(days_of(*[(4, 4)] * 10, effort=[4] * 7 + [now] * 3))

    assert [(reason.code, reason.before, reason.figure) for reason in found] == [
        (Code.EFFORT, 4, now)
    ] * told


@pytest.mark.parametrize(("answered", "told"), [(4, False), (5, True), (7, True)])
def test_a_row_with_gaps_needs_five_answers_before_the_last_three(answered, told):
    """Ten check-ins; attack and sound fall, and were answered on so many days before that."""
    before = [
        Answers(day=ago(9 - n), ratings=(4, 4, 4, 4) if n < answered else (None,) * 4, effort=4)
        for n in range(7)
    ]
    newest = [Answers(day=ago(2 - n), ratings=(2, 2, 4, 4), effort=4) for n in range(3)]

    assert bool(sudden_change([*before, *newest])) is told


def test_a_row_with_a_gap_in_the_last_three_is_not_judged():
    newest = [(None, 2, 4, 4), (2, 2, 4, 4), (2, 2, 4, 4)]
    rows = [Answers(day=ago(9 - n), ratings=(4, 4, 4, 4), effort=4) for n in range(7)]
    rows += [Answers(day=ago(2 - n), ratings=newest[n], effort=4) for n in range(3)]

    assert sudden_change(rows) == ()


@pytest.mark.parametrize(("before", "told"), [(4, False), (5, True)])
def test_five_check_ins_before_the_last_three_are_enough(before, told):
    assert bool(sudden_change(days_of(*[(4, 4)] * before, *[(2, 2)] * 3))) is told


def test_what_was_not_answered_is_no_change():
    rows = [Answers(day=ago(n), ratings=(None, None, None, None), effort=None) for n in range(9)]

    assert sudden_change(rows) == ()


@pytest.mark.parametrize(("months", "told"), [(1, False), (3, False), (4, True), (6, True)])
def test_the_third_repeat_of_a_plan_is_pointed_out(months, told):
    found = repeated(months, ago(20))

    assert found == (Reason(code=Code.REPEATED, figure=months, since=ago(20)),) * told


@pytest.mark.parametrize(
    ("outcome", "days_left", "stands"),
    [
        (Outcome.KEEP_GOING, 5, Standing.NO_CONCERN),
        (Outcome.KEEP_GOING, 4, Standing.NOT_CLEAR),
        (Outcome.MAY_BE_READY, 3, Standing.MAY_BE_READY),
        (Outcome.REPEAT, 1, Standing.REPEAT),
        (Outcome.TOO_LITTLE, 20, Standing.NOT_ENOUGH),
        (Outcome.EASE_OFF, 20, Standing.REST_AND_ASK),
    ],
)
def test_an_outcome_has_its_sign(outcome, days_left, stands):
    last_day = TODAY + timedelta(days=days_left)

    assert standing(outcome, (), day=TODAY, last_day=last_day) is stands


@pytest.mark.parametrize(
    ("code", "stands"), [(Code.HURT, Standing.REST_AND_ASK), (Code.QUIET, Standing.LOOK_IN)]
)
def test_what_needs_the_teacher_goes_before_what_may_be_ready(code, stands):
    reason = Reason(code=code, figure=8, since=TODAY)

    found = standing(Outcome.MAY_BE_READY, (reason,), day=TODAY, last_day=TODAY)

    assert found is stands
    assert list(Standing).index(stands) < list(Standing).index(Standing.MAY_BE_READY)


def test_one_thing_that_hurts_among_other_reasons_is_enough():
    reasons = [Reason(code=code, figure=8, since=TODAY) for code in (Code.QUIET, Code.HURT)]

    found = standing(Outcome.MAY_BE_READY, reasons, day=TODAY, last_day=TODAY)

    assert found is Standing.REST_AND_ASK
