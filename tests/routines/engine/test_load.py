"""Load and advice: what stands out, and what does not."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import dynamics, load, notes, timeline
from routines.engine.instruments import INSTRUMENTS, by_id
from routines.engine.load import Advice, Code
from routines.engine.plan import Month, baseline

MONDAY = date(2026, 11, 30)


def _trumpet(**changes):
    return replace(baseline(by_id("trumpet_bb")), **changes)


def _codes(plan, month=None):
    return [str(one.code) for one in load.advice(plan, month)]


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda one: one.id)
def test_a_first_block_gives_nothing_to_look_at_twice(instrument):
    assert _codes(baseline(instrument), Month(first_day=MONDAY)) == []


@pytest.mark.parametrize(
    ("changes", "code", "figure", "limit"),
    [
        ({"hold": 32, "rest": 32, "tempo": 40, "top_note": 79}, Code.LONG, 53 * 48, 1800),
        ({"hold": 8, "rest": 4}, Code.DENSE, 8 / 12, 0.5),
        ({"hold": 13, "rest": 13}, Code.BREATH, 13, 12),
        ({"hold": 4, "rest": 4, "tempo": 121}, Code.BREATHLESS, 240 / 121, 2),
        ({"dynamics": dynamics.parse("by-day:ff,p")}, Code.LOUD_HIGH, 88, 76),
    ],
)
def test_what_passes_a_limit_comes_with_its_figure(changes, code, figure, limit):
    found = {one.code: one for one in load.advice(_trumpet(**changes))}

    assert found[code].figure == pytest.approx(figure)
    assert found[code].limit == limit


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"hold": 12, "rest": 12}, Code.BREATH),
        ({"hold": 8, "rest": 8}, Code.DENSE),
        # 14 notes down and 9 up: 23 holds and 22 rests of 32 counts at 48 are 1,800 seconds.
        ({"hold": 32, "rest": 32, "tempo": 48, "top_note": 75}, Code.LONG),
        ({"hold": 4, "rest": 4, "tempo": 120}, Code.BREATHLESS),
        ({"dynamics": dynamics.parse("ff"), "top_note": 76}, Code.LOUD_HIGH),
        ({"dynamics": dynamics.parse("f")}, Code.LOUD_HIGH),
    ],
)
def test_what_stays_on_a_limit_is_not_mentioned(changes, code):
    assert code not in _codes(_trumpet(**changes))


def test_a_month_without_a_day_off_is_mentioned():
    month = Month(first_day=MONDAY, weekdays_off=frozenset())

    assert load.advice(_trumpet(), month) == (Advice(code=Code.NO_DAY_OFF, figure=7, limit=6),)


def test_a_week_is_as_many_sessions_as_it_has_days():
    totals = timeline.build(_trumpet(top_note=notes.parse("G5"))).totals

    week = load.of(totals, Month(first_day=MONDAY))

    assert (week.days_a_week, week.duty) == (6, 0.5)
    assert (week.weekly_hold_seconds, week.weekly_session_seconds) == (6 * 216, 6 * 424)


@given(st.integers(2, 31), st.integers(0, 32), st.integers(20, 240))
def test_longer_holds_never_lower_the_load(hold, rest, tempo):
    month = Month(first_day=MONDAY)

    lighter, heavier = (
        load.of(timeline.build(_trumpet(hold=counts, rest=rest, tempo=tempo)).totals, month)
        for counts in (hold, hold + 1)
    )

    assert heavier.weekly_hold_seconds > lighter.weekly_hold_seconds
    assert heavier.duty >= lighter.duty
