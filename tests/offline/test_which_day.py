"""The day a check-in is for: after midnight, on a later day, filed before, by a wrong clock."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from playwright.sync_api import expect

from progress.models import CheckIn
from routines.engine.dynamics import parse
from studio.access import practice_day
from tests import makers
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)
DAY = timedelta(days=1)
NOTHING = r"^$"


def words(day, *, how: str = "day") -> str:
    return f"{day:%A}" if how == "weekday" else f"{day:%A} {day.day} {day:%B}"


def days_filed() -> list[date]:
    return [row.day for row in CheckIn.objects.order_by("pk")]


@pytest.fixture
def phone_at(make_phone):
    """Make a phone of a studio in which it is this hour now."""

    def made(hour: int):
        return phone_in(makers.zone_where_it_is(hour), make_phone)

    return made


def phone_in(zone, make_phone):
    student = makers.a_student(makers.a_studio(time_zone=zone))
    makers.a_block(student, weekdays_off=[])
    phone = make_phone(student, timezone_id=zone)
    phones.keeps_everything(phone.page, phone.today)
    return phone


@pytest.fixture
def night(phone_at):
    """A phone of a studio in which it is past midnight and the day before goes on."""
    return phone_at(0)


@pytest.mark.parametrize("chosen", [0, 1])
def test_after_midnight_it_asks_which_day_is_meant(night, chosen):
    before = practice_day(night.student.studio, datetime.now(UTC))
    both = [before, before + DAY]
    night.open_check_in()

    asked = night.page.locator("[data-midnight]")
    expect(asked).to_contain_text(re.compile(r"It is 00:\d\d\. Is this for "))
    expect(asked).to_contain_text(f"Is this for {words(before, how='weekday')}?")
    expect(night.page.locator("[data-for-words]")).to_have_text(f"For {words(before)}.")
    asked.get_by_role("button", name=words(both[chosen], how="weekday")).click()
    phones.fill(night.page)
    phones.save(night.page)

    phones.says_saved_there(night.page)
    assert days_filed() == [both[chosen]]


def test_the_day_can_be_changed_to_one_of_the_last_seven(phone_at):
    # At noon: after midnight the day that has begun is offered too.
    noon = phone_at(12)
    today = makers.today(noon.student.studio)
    noon.open_check_in()

    noon.page.get_by_text("Change", exact=True).click()
    offered = noon.page.locator("#id_day option").all_inner_texts()
    noon.page.get_by_label("Day").select_option(label=words(today - 3 * DAY))
    phones.fill(noon.page)
    phones.save(noon.page)

    phones.says_saved_there(noon.page)
    assert offered == [words(today - number * DAY) for number in range(8)]
    assert days_filed() == [today - 3 * DAY]


def test_a_day_that_was_filed_says_when_and_can_be_changed(nors):
    today = makers.today(nors.student.studio)
    block = nors.student.block_set.get()
    makers.a_check_in(nors.student, block=block, day=today, done_at=datetime(
        today.year, today.month, today.day, 4, 10, tzinfo=UTC))  # fmt: skip
    nors.open_check_in()

    expect(
        nors.page.get_by_text(f"You filed {words(today, how='weekday')} at 04:10. Change it?")
    ).to_be_visible()
    expect(nors.page.get_by_text("a clean start")).to_be_hidden()
    nors.page.get_by_role("button", name="Change it").click()
    phones.fill(nors.page, words="a second thought")
    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    assert days_filed() == [today, today]
    assert CheckIn.objects.order_by("pk")[0].words == ""


def test_what_waits_on_the_phone_counts_as_filed(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    phones.save(nors.page)
    phones.says_saved_here(nors.page)

    nors.page.goto(f"{nors.today}/check-in")

    expect(
        nors.page.get_by_text(re.compile(r"You filed \w+ at \d\d:\d\d\. Change it\?"))
    ).to_be_visible()


def test_a_wrong_clock_is_said_and_the_student_picks_the_day(nors):
    today = makers.today(nors.student.studio)
    nors.page.clock.set_fixed_time(datetime(2031, 5, 3, 12, 0, tzinfo=UTC))
    nors.page.goto(f"{nors.today}/check-in")

    expect(nors.page.get_by_text("Your phone says 3 May 2031. Pick the day.")).to_be_visible()
    phones.fill(nors.page)
    nors.page.evaluate("() => { document.querySelector('[name=day]').value = ''; }")
    phones.save(nors.page)
    expect(nors.page.get_by_text("Pick the day.", exact=True)).to_be_visible()
    nors.page.get_by_label("Day").select_option(label=words(today - DAY))
    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    row = CheckIn.objects.get()
    assert row.day == today - DAY
    assert abs(row.done_at - datetime.now(UTC)) < timedelta(minutes=10)


@pytest.mark.parametrize("hours", [-24, 48])
def test_what_a_wrong_clock_filed_without_signal_is_not_sent_before_a_day_is_picked(nors, hours):
    today = makers.today(nors.student.studio)
    nors.context.set_offline(True)
    nors.page.clock.set_fixed_time(datetime.now(UTC) + timedelta(hours=hours))
    nors.open_check_in()
    # The worker's clock cannot be set by a test; a phone's own is one and the same.
    phones.without_background(nors.page)
    phones.fill(nors.page, words="by a wrong clock")
    phones.save(nors.page)
    phones.says_saved_here(nors.page)

    nors.context.set_offline(False)

    expect(nors.page.get_by_text(re.compile(r"Your phone says .* Pick the day\."))).to_be_visible()
    assert nors.page.locator("[name=words]").input_value() == "by a wrong clock"
    assert not CheckIn.objects.exists()
    nors.page.get_by_label("Day").select_option(label=words(today))
    phones.save(nors.page)
    phones.says_saved_there(nors.page)
    assert days_filed() == [today]
    assert phones.rows(nors.page) == []


@pytest.mark.parametrize("year", [1970, 2031])
def test_a_clock_that_is_years_off_without_signal_leaves_the_days_to_pick(nors, year):
    today = makers.today(nors.student.studio)
    nors.context.set_offline(True)
    nors.page.clock.set_fixed_time(datetime(year, 5, 3, 12, 0, tzinfo=UTC))
    nors.open_check_in()
    phones.without_background(nors.page)

    expect(nors.page.get_by_text(f"Your phone says 3 May {year}. Pick the day.")).to_be_visible()
    phones.fill(nors.page, words="by a clock of another year")
    nors.page.get_by_label("Day").select_option(label=words(today))
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    nors.context.set_offline(False)

    phones.until(nors.page, lambda: phones.rows(nors.page) == [])
    assert days_filed() == [today]


def test_a_clock_that_is_some_minutes_off_asks_nothing(nors):
    nors.page.clock.set_fixed_time(datetime.now(UTC) + timedelta(minutes=9))
    nors.open_check_in()
    phones.fill(nors.page)

    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    expect(nors.page.locator("[data-clock]")).to_be_hidden()


@pytest.fixture
def by_day(nor):
    """A block that is loud and soft day by day."""
    nor.block_set.all().delete()
    plan = makers.a_plan(nor, dynamics=parse("by-day:f,p"))
    return makers.a_block(nor, plan=plan, weekdays_off=[])


def test_on_a_later_day_the_kept_pages_are_those_of_that_day(by_day, nors):
    today = makers.today(nors.student.studio)
    now = nors.page.locator("[data-dynamics]").inner_text()
    nors.context.set_offline(True)

    nors.page.clock.set_fixed_time(datetime.now(UTC) + DAY)
    nors.page.goto(nors.today)

    expect(nors.page.locator("[data-day-words]")).to_have_text(words(today + DAY))
    then = nors.page.locator("[data-dynamics]").inner_text()
    assert {now, then} == {"Today: loud", "Today: soft"}
    nors.page.goto(f"{nors.today}/session")
    played = nors.page.evaluate(
        "() => JSON.parse(document.querySelector('#session-data').textContent)"
    )
    assert played["day"] == (today + DAY).isoformat()
    assert f"Today: {played['dynamic_today'].lower()}" == then
    nors.page.goto(f"{nors.today}/check-in")
    expect(nors.page.locator("[data-for-words]")).to_have_text(f"For {words(today + DAY)}.")


def test_a_page_that_says_done_is_fresh_again_the_next_day(nors):
    makers.a_check_in(nors.student, block=nors.student.block_set.get())
    nors.page.goto(nors.today)
    expect(nors.page.get_by_text("Done for today.")).to_be_visible()
    nors.context.set_offline(True)

    nors.page.clock.set_fixed_time(datetime.now(UTC) + DAY)
    nors.page.goto(nors.today)

    expect(nors.page.get_by_role("link", name="Start")).to_be_visible()
    expect(nors.page.get_by_text("Done for today.")).to_be_hidden()


def test_a_page_older_than_it_reaches_says_which_day_it_is_from(nors):
    today = makers.today(nors.student.studio)
    nors.context.set_offline(True)

    nors.page.clock.set_fixed_time(datetime.now(UTC) + 30 * DAY)
    for path in ("", "/session"):
        nors.page.goto(nors.today + path)
        expect(
            nors.page.get_by_text(f"is from {words(today)}. Open it once with signal.")
        ).to_be_visible()


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati"])
def test_the_day_of_what_waits_does_not_move_with_the_phone(nor, make_phone, zone):
    phone = make_phone(nor, timezone_id=None)
    phones.keeps_everything(phone.page, phone.today)
    today = makers.today(nor.studio)
    phone.context.set_offline(True)
    phone.open_check_in()
    phone.page.evaluate("day => { document.querySelector('[name=day]').value = day; }", str(today))
    phones.fill(phone.page)
    phones.save(phone.page)
    phones.says_saved_here(phone.page)
    moved = phone.context.new_cdp_session(phone.page)
    moved.send("Emulation.setTimezoneOverride", {"timezoneId": zone})

    phone.context.set_offline(False)

    phones.says_saved_there(phone.page)
    assert days_filed() == [today]


def test_what_the_session_says_is_filled_in_and_no_rating_is(nors):
    today = makers.today(nors.student.studio)
    nors.page.goto(nors.today)
    phones.session_result(
        nors.page, student=nors.student.public_id, day=today.isoformat(), finished=0,
        completed=0.7, seconds=424.4, high_note=79, stopped_because="tired",
        trouble=["high"], notes={"79": "not yet"}, finished_at=datetime.now(UTC).isoformat(),
    )  # fmt: skip

    nors.open_check_in()
    expect(nors.page.get_by_text("You played for 7 minutes.")).to_be_visible()
    assert nors.page.locator("form input[type=radio]:checked").evaluate_all(
        "all => all.map((one) => one.name)"
    ) == ["stopped_because"]
    nors.page.get_by_text("Tell more, if you like").click()
    expect(nors.page.get_by_label("High", exact=True)).to_be_checked()
    phones.fill(nors.page)
    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    row = CheckIn.objects.get()
    assert (row.seconds, row.completed, row.high_note) == (424, 0.7, 79)
    assert (row.stopped_because, row.trouble) == ("tired", ["high"])
    assert nors.page.evaluate("() => sessionStorage.getItem('filar.session')") is None


def test_a_session_counts_for_its_own_day_and_its_own_student(nors):
    today = makers.today(nors.student.studio)
    nors.page.goto(nors.today)
    phones.session_result(
        nors.page, student="somebody else", day=today.isoformat(), completed=1, seconds=60,
        finished_at=datetime.now(UTC).isoformat(),
    )  # fmt: skip
    nors.open_check_in()
    expect(nors.page.locator("[data-played]")).to_be_hidden()
    phones.session_result(
        nors.page, student=nors.student.public_id, day=(today - DAY).isoformat(), completed=1,
        seconds=60, finished_at=datetime.now(UTC).isoformat(),
    )  # fmt: skip
    nors.open_check_in()
    expect(nors.page.locator("[data-for-words]")).to_have_text(f"For {words(today - DAY)}.")

    nors.page.get_by_text("Change", exact=True).click()
    nors.page.get_by_label("Day").select_option(label=words(today - 2 * DAY))

    expect(nors.page.locator("[data-played]")).to_be_hidden()
    assert nors.page.locator("[name=seconds]").input_value() == ""
