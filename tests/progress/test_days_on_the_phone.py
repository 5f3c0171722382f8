"""Which day a check-in may be for when it arrives: a phone's clock and its journeys are its own."""

from datetime import UTC, date, datetime, time, timedelta
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django_scopes import scopes_disabled

from progress.models import CheckIn
from progress.queries.days import could_be_changed, days_to_accept, days_to_fill, phone_days
from progress.queries.months import student_month
from routines.queries import blocks_of
from studio.access import practice_day
from tests import makers

NOW = datetime(2026, 3, 3, 18, 0, tzinfo=UTC)
TODAY = date(2026, 3, 3)
DAY = timedelta(days=1)
FORM = "application/x-www-form-urlencoded"

pytestmark = [pytest.mark.django_db, pytest.mark.battery]


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def nor():
    student = makers.a_student(makers.a_studio(time_zone="Europe/Berlin"))
    makers.a_block(student, first_day=TODAY - 20 * DAY, length_days=40)
    return student


def filed(student, *, day: date, done_at: str) -> int:
    fields = makers.the_answers(day=day, done_at=done_at)
    phone = makers.a_phone(makers.a_grant(student))
    path, headers = f"/practice/{student.public_id}/check-in", {"Accept": "application/json"}
    return phone.post(path, urlencode(fields), content_type=FORM, headers=headers).status_code


@pytest.mark.parametrize(
    ("hours", "status"), [(-15 * 24, 201), (-48, 201), (0, 201), (25, 422), (48, 422)]
)
def test_a_day_ahead_of_the_servers_is_refused_from_a_clock_that_is_ahead(nor, hours, status):
    claimed = NOW + timedelta(hours=hours)

    with time_machine.travel(NOW, tick=False):
        assert filed(nor, day=claimed.date(), done_at=claimed.isoformat()) == status


@pytest.mark.parametrize("year", [1970, 2038, 9999])
def test_a_clock_that_is_years_off_files_nothing(nor, year):
    claimed = NOW.replace(year=year)

    with time_machine.travel(NOW, tick=False):
        assert filed(nor, day=claimed.date(), done_at=claimed.isoformat()) == 422
    assert not CheckIn.objects.exists()


def test_no_clock_that_is_ahead_files_a_day_that_has_not_come(nor, is_battery, figures):
    skews = range(11, 2 * 24 * 60, 14 if is_battery else 130)

    for minutes in skews:
        claimed = NOW + timedelta(minutes=minutes)
        with time_machine.travel(NOW, tick=False):
            filed(nor, day=practice_day(nor.studio, claimed), done_at=claimed.isoformat())

    assert {row.day for row in CheckIn.objects.all()} == {TODAY}
    figures.append(f"clocks ahead by 11 minutes to 2 days, {len(skews)} of them: 0 days too early")


def test_a_phone_further_east_may_file_its_own_day_before_it_has_begun_here(nor):
    late = datetime(2026, 3, 3, 20, 0, tzinfo=UTC)  # Wednesday five in the morning in Tokyo
    day = practice_day(makers.a_studio(time_zone="Asia/Tokyo"), late)

    with time_machine.travel(late, tick=False):
        status = filed(nor, day=day, done_at=late.isoformat())

    assert (day, status) == (TODAY + DAY, 201)


def test_after_midnight_both_days_are_offered_and_taken(nor):
    half_past_twelve = datetime(2026, 3, 3, 23, 30, tzinfo=UTC)  # 00:30 in Berlin
    phone = makers.a_phone(makers.a_grant(nor))

    with time_machine.travel(half_past_twelve, tick=False):
        form = phone.get(f"/practice/{nor.public_id}/check-in").context["form"]
        sent = phone.post(
            f"/practice/{nor.public_id}/check-in", makers.the_answers(day=TODAY + DAY)
        )

    assert [value for value, _ in form.fields["day"].choices][:2] == ["2026-03-04", "2026-03-03"]
    assert form["day"].value() == "2026-03-03"
    assert sent.status_code == 302


def test_the_new_day_is_not_offered_once_the_day_has_ended(nor):
    with time_machine.travel(NOW, tick=False):
        assert days_to_fill(nor, TODAY, blocks_of(nor))[0] == TODAY


@pytest.mark.parametrize("ends", [0, 2, 4, 6])
@pytest.mark.parametrize(
    "zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kolkata", "America/New_York", "UTC"]
)
@pytest.mark.parametrize("hour", [0, 5, 23])
def test_a_filed_day_never_moves_when_the_studios_clocks_do(nor, zone, ends, hour):
    moment = NOW.replace(hour=hour)
    day = practice_day(nor.studio, moment)
    with time_machine.travel(moment, tick=False):
        filed(nor, day=day, done_at=moment.isoformat())
    before = student_month(nor, TODAY).filed_days

    nor.studio.time_zone, nor.studio.day_ends_at = zone, time(ends)
    nor.studio.save()

    assert CheckIn.objects.get().day == day
    assert student_month(nor, TODAY).filed_days == before == {day}


def test_what_a_page_knows_of_days_is_what_it_needs_on_the_phone(nor):
    makers.a_check_in(
        nor,
        block=makers.a_block(nor, first_day=TODAY + 30 * DAY),
        day=TODAY - DAY,
        done_at=datetime(2026, 3, 2, 16, 10, tzinfo=ZoneInfo("Europe/Berlin")),
    )

    facts = phone_days(nor, TODAY, blocks_of(nor), could_be_changed(nor, TODAY))

    assert (facts["zone"], facts["ends"], facts["back"]) == ("Europe/Berlin", "04:00", 7)
    assert len(facts["blocks"]) == 2
    assert list(facts["filed"]) == ["2026-03-02"]


@pytest.mark.parametrize("first", [date(2026, 1, 31), date(2026, 12, 20), date(2028, 2, 10)])
def test_over_the_edge_of_a_month_and_a_year_no_day_is_left_out(nor, first):
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_block(sam, first_day=first, length_days=31)
    last = first + 30 * DAY

    days = days_to_accept(sam, blocks_of(sam), newest=last + 5 * DAY, told_on=last)

    assert days == [last - number * DAY for number in range(8)]
