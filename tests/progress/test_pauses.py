"""What a pause does to the pages: the end of the block, the days asked for, the silence in it."""

from datetime import date, timedelta

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.charts import DayState
from progress.forms.interruptions import InterruptionForm
from progress.queries.months import student_month
from progress.views.line import line_days
from routines.models import Block
from studio.models import Interruption
from studio.words import day_in_words
from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def today(nor):
    return makers.today(nor.studio)


@pytest.fixture
def block(nor, today):
    return makers.a_block(nor, first_day=today - 10 * DAY, weekdays_off=[])


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def a_pause(nor, first: date, last: date | None, **values) -> Interruption:
    """Make a confirmed illness, which moves no end: only the services do."""
    fields = {"confirmed_at": timezone.now()} | values
    return makers.an_interruption(nor, first_day=first, last_day=last, **fields)


def send(desk, nor, first: date, last: date | None, kind="ill"):
    data = {"kind": kind, "first_day": first.isoformat(), "note": ""}
    data |= {"last_day": last.isoformat()} if last else {}
    return desk.post(f"/students/{nor.public_id}/interruptions/new", data, follow=True)


def said(page) -> str:
    return " ".join(str(message) for message in page.context["messages"])


def test_a_saved_pause_says_where_the_block_ends_now(desk, nor, block, today):
    page = send(desk, nor, today - 2 * DAY, today + DAY)

    ends = Block.objects.get().last_day
    assert ends == today + 21 * DAY
    assert said(page) == f"Saved. The block now ends {day_in_words(ends)}."


@pytest.mark.parametrize(("kind", "last"), [("mouth", 3), ("light", 3), ("ill", None)])
def test_what_moves_nothing_says_nothing_of_the_end(desk, nor, block, today, kind, last):
    page = send(desk, nor, today, None if last is None else today + last * DAY, kind)

    assert said(page) == "Saved."


def test_a_block_without_room_says_what_is_in_its_way(desk, nor, block, today):
    after = makers.a_block(nor, first_day=block.last_day + DAY)

    page = send(desk, nor, today, today)

    assert said(page) == (
        f"Saved. The block still ends {day_in_words(block.last_day)}, because the next one begins "
        f"on {day_in_words(after.first_day)}."
    )


def test_a_pause_in_two_blocks_names_both(desk, nor, block, today):
    after = makers.a_block(nor, first_day=block.last_day + 10 * DAY)

    page = send(desk, nor, block.last_day, after.first_day)

    assert f"The block from {block.first_day.day} {block.first_day:%B} now ends" in said(page)
    assert f"The block from {after.first_day.day} {after.first_day:%B} now ends" in said(page)


def test_what_is_over_moves_the_end_to_where_it_stood_yesterday(desk, nor, block, today):
    pause = a_pause(nor, today - 3 * DAY, None)

    page = desk.post(f"/interruptions/{pause.public_id}/end", follow=True)

    ends = block.last_day + 3 * DAY
    assert said(page).endswith(f"history. The block now ends {day_in_words(ends)}.")


def test_a_confirmed_pause_says_where_the_block_ends_now(desk, nor, block, today):
    told = a_pause(nor, today, today + DAY, confirmed_at=None, told_by_student=True)

    page = desk.post(f"/interruptions/{told.public_id}/confirm", follow=True)

    assert said(page) == f"Confirmed. The block now ends {day_in_words(block.last_day + 2 * DAY)}."


def test_a_pause_still_to_come_stands_on_the_page_and_can_be_taken_out(desk, nor, block, today):
    page = send(desk, nor, today + 3 * DAY, today + 5 * DAY, "away")
    assert "Away from " in page.content.decode()

    page = desk.post(f"/interruptions/{Interruption.objects.get().public_id}/end", follow=True)

    assert said(page) == f"Taken out. The block now ends {day_in_words(block.last_day)}."
    assert not Interruption.objects.exists()


@pytest.mark.parametrize(("days", "refused"), [(365, False), (366, True)])
def test_a_pause_of_more_than_a_year_is_refused(days, refused):
    first = date(2026, 11, 25)
    form = InterruptionForm(
        {"kind": "ill", "first_day": first, "last_day": first + days * DAY, "note": ""}, today=first
    )

    assert form.errors.get("last_day", []) == (
        ["26 November 2027 is more than a year after 25 November 2026: choose a day up to "
         "25 November 2027, or leave it empty."] if refused else []
    )  # fmt: skip


@pytest.mark.parametrize("first", ["0001-01-01", "0026-11-25", "9999-12-01"])
def test_a_year_mistyped_is_refused_and_stays_as_it_was_typed(desk, nor, block, first):
    page = send(desk, nor, date.fromisoformat(first), None)

    assert page.status_code == 422
    assert "choose a day from" in page.context["form"].errors["first_day"][0]
    assert page.context["form"]["first_day"].value() == first
    assert not Interruption.objects.exists()


def test_days_in_a_pause_are_not_asked_for_but_a_check_in_in_it_counts(nor, block, today):
    a_pause(nor, today - 4 * DAY, today - 2 * DAY)
    makers.a_check_in(nor, block=block, day=today - 3 * DAY)
    makers.a_not_today(nor, day=today - 2 * DAY)

    days = {row.day: row for row in line_days(student_month(nor, today))}

    states = [days[today - number * DAY].state for number in (5, 4, 3, 2, 1)]
    assert states == [
        DayState.EMPTY, DayState.PAUSED, DayState.FILED, DayState.PAUSED, DayState.EMPTY
    ]  # fmt: skip
    assert days[today - 4 * DAY].why == "ill"


def test_the_days_done_are_counted_of_those_outside_a_pause(desk, nor, block, today):
    a_pause(nor, today - 6 * DAY, today - 2 * DAY)
    makers.a_check_in(nor, block=block, day=today)

    page = desk.get(f"/students/{nor.public_id}")

    # Eleven days so far without a day off, five of them in the pause.
    assert "1 of 6 days." in page.content.decode()
    assert "Not asked: ill" in page.content.decode()


@pytest.mark.parametrize(
    ("values", "state"),
    [({"confirmed_at": None}, "empty"), ({"kind": "light"}, "empty"), ({}, "paused"),
     ({"kind": "away"}, "paused")],
)  # fmt: skip
def test_only_a_confirmed_pause_of_those_that_move_the_end_is_not_asked_for(
    nor, block, today, values, state
):
    a_pause(nor, today - DAY, today, **values)

    line = line_days(student_month(nor, today))

    assert [row.state for row in line if row.day == today] == [state]


def test_a_pause_without_a_last_day_reaches_to_today_on_the_line(nor, block, today):
    a_pause(nor, today - DAY, None)

    states = {row.day: row.state for row in line_days(student_month(nor, today))}

    assert [states[today + number * DAY] for number in (-2, -1, 0, 1)] == [
        "empty", "paused", "paused", "ahead"
    ]  # fmt: skip


@pytest.mark.parametrize(("confirmed", "reasons"), [(True, []), (False, ["quiet"])])
def test_silence_in_a_confirmed_pause_is_no_reason_to_look_in(
    nor, block, today, confirmed, reasons
):
    a_pause(nor, today - 8 * DAY, None, confirmed_at=timezone.now() if confirmed else None)

    found = student_month(nor, today).reasons

    assert [reason.code for reason in found] == reasons


def test_the_overview_says_which_days_of_the_silence_do_not_count(desk, nor, block, today):
    a_pause(nor, today - 10 * DAY, today - 8 * DAY)

    page = desk.get("/overview").content.decode()

    assert "8 days; 3 more in a pause do not count." in page


def test_today_can_be_used_during_a_pause(nor, block, today):
    a_pause(nor, today - DAY, today + DAY)
    phone = makers.a_phone(makers.a_grant(nor))

    page = phone.get(f"/practice/{nor.public_id}").content.decode()

    assert "Ill: nothing is asked today." in page
    assert "You can still play if you like." in page
    assert f"/practice/{nor.public_id}/session" in page
    assert f"/practice/{nor.public_id}/check-in" in page


def test_nobody_whom_something_hurts_is_told_to_play_in_a_pause(nor, block, today):
    a_pause(nor, today - DAY, today + DAY)
    makers.a_discomfort(nor)

    page = makers.a_phone(makers.a_grant(nor)).get(f"/practice/{nor.public_id}").content.decode()

    assert "Ill: nothing is asked today." in page
    assert "You can still play" not in page


def test_today_can_be_used_on_a_day_that_a_pause_added(nor, today):
    block = makers.a_block(nor, first_day=today - 30 * DAY, extra_days=7)
    phone = makers.a_phone(makers.a_grant(nor))
    assert block.first_day + 27 * DAY < today

    answers = [phone.get(f"/practice/{nor.public_id}{page}") for page in ("", "/session", "/month")]

    assert [answer.status_code for answer in answers] == [200, 200, 200]
    assert "Hold 8 · Rest 8" in answers[0].content.decode()


def test_a_phone_shows_the_day_however_long_pauses_make_a_block(desk, nor):
    today = makers.today(nor.studio)
    makers.a_block(nor, first_day=today - timedelta(days=90), extra_days=70, length_days=28)
    phone = makers.a_phone(makers.a_grant(nor))

    for page in ("", "/session"):
        assert phone.get(f"/practice/{nor.public_id}{page}").status_code == 200
