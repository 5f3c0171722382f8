"""Plans: defaults of the trade, limits and their errors, the days of a month."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import notes
from routines.engine.instruments import INSTRUMENTS, Setup, by_id
from routines.engine.plan import BlockPlan, Month, PlanError, baseline

MONDAY = date(2026, 11, 30)
TRUMPET: dict[str, Any] = {"instrument": "trumpet_bb", "start_note": 67, "low_note": 54}


# Common practice, no published source: hold 8, rest 8, mezzo-forte, 60, middle G, open top.
def test_a_first_block_has_the_numbers_of_the_trade():
    plan = baseline(by_id("trumpet_bb"))

    assert (plan.hold, plan.rest, plan.tempo, str(plan.dynamics)) == (8, 8, 60, "mf")
    assert [notes.name(plan.start_note), notes.name(plan.low_note)] == ["G4", "F#3"]
    assert (plan.top_note, str(plan.back)) == (None, "restart")


@pytest.mark.parametrize("setup", [Setup(), Setup(four_valves=False)])
def test_every_instrument_has_a_first_block(setup):
    plans = [baseline(instrument, setup) for instrument in INSTRUMENTS]

    assert {plan.start_note - plan.low_note for plan in plans} == {13}


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"hold": 99}, "hold", "Hold 99 counts: choose 2 to 32."),
        ({"hold": 1}, "hold", "Hold 1 counts: choose 2 to 32."),
        ({"rest": -1}, "rest", "Rest -1 counts: choose 0 to 32."),
        ({"rest": 33}, "rest", "Rest 33 counts: choose 0 to 32."),
        ({"tempo": 19}, "tempo", "Tempo 19: choose 20 to 240."),
        ({"tempo": 241}, "tempo", "Tempo 241: choose 20 to 240."),
        ({"low_note": 53}, "low_note", "Low note F3: B-flat trumpet goes from F#3 to E6."),
        ({"top_note": 89}, "top_note", "Top note F6: B-flat trumpet goes from F#3 to E6."),
        ({"start_note": 999}, "start_note", "Start note 999: B-flat trumpet goes from F#3 to E6."),
        ({"start_note": -1}, "start_note", "Start note -1: B-flat trumpet goes from F#3 to E6."),
        ({"start_note": 0}, "start_note", "Start note C-1: B-flat trumpet goes from F#3 to E6."),
        ({"start_note": 127}, "start_note", "Start note G9: B-flat trumpet goes from F#3 to E6."),
        ({"start_note": 128}, "start_note", "Start note 128: B-flat trumpet goes from F#3 to E6."),
        ({"low_note": 68}, "low_note", "Low note Ab4: choose the start note G4 or a lower one."),
        ({"top_note": 66}, "top_note", "Top note F#4: choose the start note G4 or a higher one."),
    ],
)
def test_a_number_out_of_its_limits_names_its_field_and_the_limits(change, field, message):
    with pytest.raises(PlanError) as error:
        BlockPlan(**TRUMPET | change)

    assert (error.value.field, str(error.value)) == (field, message)


@pytest.mark.parametrize(
    "edge",
    [
        {"hold": 2},
        {"hold": 32},
        {"rest": 0},
        {"rest": 32},
        {"tempo": 20},
        {"tempo": 240},
        {"low_note": 67},
        {"top_note": 67},
        {"top_note": 88},
    ],
)
def test_the_limits_themselves_are_allowed(edge):
    plan = BlockPlan(**TRUMPET | edge)

    assert {name: getattr(plan, name) for name in edge} == edge


def test_an_unknown_instrument_is_the_instrument_fields_error():
    with pytest.raises(PlanError, match="Instrument 'kazoo': choose one of") as error:
        BlockPlan(**TRUMPET | {"instrument": "kazoo"})

    assert error.value.field == "instrument"


def test_a_low_note_that_takes_the_fourth_valve_is_refused_with_three():
    low: dict[str, Any] = {
        "instrument": "euphonium_bc",
        "start_note": 53,
        "low_note": notes.parse("Eb2"),
    }

    with pytest.raises(PlanError, match="Low note Eb2: euphonium, bass clef goes from E2 to D5"):
        BlockPlan(**low, setup=Setup(four_valves=False))

    assert BlockPlan(**low).low_note == 39


# Common practice, no published source: four weeks, one day a week off.
def test_a_month_is_28_days_with_sundays_off():
    month = Month(first_day=MONDAY)

    assert (month.last_day, len(month.days()), len(month.due_days())) == (
        date(2026, 12, 27),
        28,
        24,
    )
    assert month.days_a_week == 6
    assert all(day.weekday() != 6 for day in month.due_days())


def test_days_and_weeks_count_from_one_through_the_days_off():
    month = Month(first_day=MONDAY)
    sunday = date(2026, 12, 6)

    assert [month.day_number(day) for day in (MONDAY, sunday, month.last_day)] == [1, 7, 28]
    assert [month.week_of(day) for day in (MONDAY, sunday, date(2026, 12, 7))] == [1, 1, 2]
    assert (month.is_due(MONDAY), month.is_due(sunday)) == (True, False)


@pytest.mark.parametrize("days", [-1, 28])
def test_a_day_outside_the_block_has_no_number(days):
    month = Month(first_day=MONDAY)
    outside = MONDAY + timedelta(days=days)

    with pytest.raises(PlanError, match="choose a day from 2026-11-30 to 2026-12-27"):
        month.day_number(outside)

    assert not month.is_due(outside)


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"length_days": 6}, "length_days", "Length 6 days: choose 7 to 62."),
        ({"length_days": 63}, "length_days", "Length 63 days: choose 7 to 62."),
        ({"weekdays_off": frozenset({7})}, "weekdays_off", "Days off 7: choose 0"),
        ({"weekdays_off": frozenset(range(7))}, "weekdays_off", "leave at least one day"),
    ],
)
def test_a_month_that_cannot_be_played_names_its_field(change, field, message):
    with pytest.raises(PlanError, match=message.replace(".", r"\.")) as error:
        Month(first_day=MONDAY, **change)

    assert error.value.field == field


@given(
    st.dates(date(2020, 1, 1), date(2040, 1, 1)),
    st.integers(7, 62),
    st.frozensets(st.integers(0, 6), max_size=6),
)
def test_due_days_and_days_off_make_up_the_month(first_day, length, off):
    month = Month(first_day=first_day, length_days=length, weekdays_off=off)

    rest = [day for day in month.days() if day.weekday() in off]

    assert sorted([*month.due_days(), *rest]) == list(month.days())
    assert [month.day_number(day) for day in month.days()] == list(range(1, length + 1))


def test_a_month_that_begins_on_a_day_off_begins_with_the_first_turn():
    month = Month(first_day=MONDAY, weekdays_off=frozenset({0}))

    assert [month.turn_of(MONDAY + timedelta(days=n)) for n in range(4)] == [1, 1, 2, 3]


@pytest.mark.parametrize("days", [-1, 28])
def test_a_day_outside_the_block_has_no_turn(days):
    with pytest.raises(PlanError, match="choose a day from 2026-11-30 to 2026-12-27"):
        Month(first_day=MONDAY).turn_of(MONDAY + timedelta(days=days))


def test_days_that_pauses_added_belong_to_the_month_and_change_no_turn_before():
    plain = Month(first_day=MONDAY, length_days=62)

    longer = Month(first_day=MONDAY, length_days=62, extra_days=10)

    assert longer.last_day == longer.days()[-1] == MONDAY + timedelta(days=71)
    assert longer.last_day in longer
    assert longer.last_day + timedelta(days=1) not in longer
    assert [longer.turn_of(day) for day in plain.days()] == [
        plain.turn_of(day) for day in plain.days()
    ]
    # 72 days from a Monday hold ten Sundays.
    assert (longer.turn_of(longer.last_day), longer.week_of(longer.last_day)) == (62, 11)
