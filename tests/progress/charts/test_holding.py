"""Seconds held a week. By hand, and the sums against pandas' own weeks."""

from random import Random

import pandas as pd
import pytest

from progress.charts.holding import holding_chart
from tests.progress.charts.charted import START, a_charted, a_check_in, day, there

# 27 notes held 8 counts at 60 are 216 s; held 12 they are 324 s.
EIGHT, TWELVE = 216.0, 324.0


def weeks(charted):
    chart = holding_chart(charted)
    assert chart is not None
    return chart.weeks


def test_a_session_counts_by_the_share_that_was_played():
    charted = a_charted(
        check_ins=(a_check_in(0, completed=1.0), a_check_in(2, completed=0.5)), today=6
    )

    (week,) = weeks(charted)

    assert week.held_seconds == pytest.approx(324)
    assert (week.check_ins, week.unsaid) == (2, 0)


def test_each_session_counts_under_the_version_it_was_played_under():
    charted = a_charted(
        check_ins=(
            a_check_in(0, completed=1.0, planned=EIGHT),
            a_check_in(3, completed=1.0, planned=TWELVE),
        ),
        today=6,
    )

    assert weeks(charted)[0].held_seconds == pytest.approx(540)


def test_what_was_not_said_is_counted_apart_at_its_most():
    charted = a_charted(check_ins=(a_check_in(0, completed=1.0), a_check_in(1)), today=6)

    (week,) = weeks(charted)

    assert (week.held_seconds, week.unsaid, week.unsaid_seconds) == (216, 1, 216)
    assert there(holding_chart(charted)).figure["data"][2]["base"] == [3.6]


def test_nothing_played_is_nought_and_not_unsaid():
    charted = a_charted(check_ins=(a_check_in(0, completed=0.0),), today=6)

    assert (weeks(charted)[0].held_seconds, weeks(charted)[0].unsaid) == (0, 0)


def test_asked_is_the_whole_week_also_while_it_runs():
    asked = {day(number): EIGHT for number in range(28) if number % 7 != 6}
    charted = a_charted(check_ins=(a_check_in(0, completed=1.0),), today=8, asked=asked)

    first, second = weeks(charted)

    assert (first.asked_seconds, first.due_days, first.is_running) == (6 * EIGHT, 6, False)
    assert (second.asked_seconds, second.due_days, second.is_running) == (6 * EIGHT, 6, True)


def test_the_last_week_ends_with_the_block():
    charted = a_charted(check_ins=(a_check_in(0, completed=1.0),), today=40, length=30)

    last = weeks(charted)[-1]

    assert (last.number, last.first_day, last.last_day) == (5, day(28), day(29))
    assert not last.is_running


@pytest.mark.parametrize("seed", range(5))
def test_the_sums_are_those_of_pandas(seed):
    random = Random(seed)  # noqa: S311 - an invented month, no secrets
    told = [
        (number, random.choice([EIGHT, TWELVE]), random.choice([1.0, 0.5, 0.7, None]))
        for number in range(62)
        if random.random() < 0.7
    ]
    check_ins = tuple(a_check_in(n, planned=planned, completed=done) for n, planned, done in told)
    frame = pd.DataFrame(told, columns=["day", "planned", "done"])
    frame["held"] = frame["planned"] * frame["done"].astype(float)
    frame["unsaid"] = frame["planned"].where(frame["done"].isna(), 0.0)
    frame.index = pd.Timestamp(START) + pd.to_timedelta(frame["day"], unit="D")
    sums = frame.resample("7D", origin=pd.Timestamp(START))[["held", "unsaid"]].sum()

    found = weeks(a_charted(check_ins=check_ins, today=61, length=62))

    assert [week.held_seconds for week in found] == pytest.approx(list(sums["held"]))
    assert [week.unsaid_seconds for week in found] == pytest.approx(list(sums["unsaid"]))


def test_without_a_check_in_nothing_is_drawn():
    assert holding_chart(a_charted(asked={day(0): EIGHT})) is None
