"""Waiting for days, signing out, tokens grown old: many times over, for the battery alone."""

from datetime import UTC, datetime, timedelta
from random import Random

import pytest
import time_machine
from django.conf import settings as django_settings
from django.utils import timezone
from playwright.sync_api import expect

from progress.models import CheckIn
from studio.access import practice_day
from tests import makers
from tests.offline import phones
from tests.offline.test_room_and_taps import FULL

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.battery(only=True)]
WAITS = 60
SIGNED_OUT = 30
TOKENS = 30


def saved_without_signal(phone, page, words: str) -> None:
    phone.context.set_offline(True)
    page.goto(f"{phone.today}/check-in")
    phones.is_ready(page)
    phones.without_background(page)
    change = page.get_by_role("button", name="Change it")
    if change.is_visible():
        change.click()
    phones.fill(page, words=words)
    phones.save(page)
    phones.says_saved_here(page)


def until_all_is_sent(page) -> None:
    phones.until(page, lambda: phones.rows(page) == [])


@pytest.fixture
def draw(seed):
    """Draw from a seed of its own a run."""
    return lambda number: Random(1000 * seed + number)  # noqa: S311 - the same from the same seed


def test_what_waited_for_up_to_three_days_arrives_for_its_own_day(
    studio, make_phone, draw, figures
):
    # The pages were kept on the day of the check-in; then the server and the phone move on. Each
    # run has a phone of its own, since no clock goes back.
    waited, days = [], []
    for number in range(WAITS):
        random = draw(number)
        minutes = random.randrange(72 * 60)
        student = makers.a_student(studio, name=f"Nor {number}")
        makers.a_block(student, weekdays_off=[])
        phone = make_phone(student)
        phones.keeps_everything(phone.page, phone.today)
        days.append(practice_day(studio, datetime.now(UTC)))
        saved_without_signal(phone, phone.page, words=f"wait {number}")
        page = phone.context.new_page()
        if random.random() < 0.7:
            phone.page.close()
        later = datetime.now(UTC) + timedelta(minutes=minutes)
        page.clock.set_fixed_time(later)

        with time_machine.travel(later, tick=True):
            phone.context.set_offline(False)
            page.goto(phone.today)
            until_all_is_sent(page)
        phone.context.close()
        waited.append(minutes)

    rows = CheckIn.objects.order_by("pk")
    assert [row.words for row in rows] == [f"wait {number}" for number in range(WAITS)]
    assert [row.day for row in rows] == days
    figures.append(
        f"waited {min(waited)} to {max(waited)} minutes, page closed between, {WAITS} runs: "
        "0 lost, 0 on another day"
    )


def test_a_phone_without_room_never_says_saved(nors, draw, figures):
    nors.context.set_offline(True)
    for number in range(WAITS):
        how = draw(number).choice(sorted(FULL))
        page = nors.context.new_page()
        page.goto(f"{nors.today}/check-in")
        phones.is_ready(page)
        page.evaluate(FULL[how])
        phones.fill(page, words=f"full {number}")
        phones.save(page)

        expect(page.get_by_text("This phone has no room to save.")).to_be_visible()
        assert page.locator("[data-kept-panel]").is_hidden(), how
        page.close()

    assert phones.rows(nors.page) == []
    figures.append(f"no room on the phone, {WAITS} runs: said each time, 0 said to be saved")


def sign_out(paired: makers.PairedPhone) -> None:
    paired.grant.ended_at = timezone.now()
    paired.grant.save()


def test_only_the_same_student_sends_what_waited_on_a_phone_signed_out(
    nors, nor, draw, live_server, troubles, figures
):
    troubles.allow("404")
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_block(sam, weekdays_off=[])
    posts: list[str] = []
    nors.context.on("request", lambda one: posts.append(one.url) if one.method == "POST" else None)
    mine, count = nors.paired, 0
    for number in range(SIGNED_OUT):
        page = nors.context.new_page()
        waiting = draw(number).randint(1, 2)
        for one in range(waiting):
            saved_without_signal(nors, page, words=f"signed out {number}.{one}")
        count += waiting
        sign_out(mine)
        sams = makers.a_grant(sam)
        phones.paired(nors.context, live_server.url, sams)
        posts.clear()
        nors.context.set_offline(False)
        page.goto(f"{live_server.url}/practice")
        expect(page.get_by_role("heading", name="Hi Sam")).to_be_visible()
        expect(page.locator("[data-say^=out]:visible")).to_contain_text("still on this phone")
        assert (len(phones.rows(page)), posts) == (waiting, [])

        sign_out(sams)
        mine = makers.a_grant(nor)
        phones.paired(nors.context, live_server.url, mine)
        phones.keeps_everything(page, nors.today)
        until_all_is_sent(page)
        page.close()

    assert [row.student for row in CheckIn.objects.all()] == [nor] * count
    figures.append(
        f"signed out with check-ins waiting, {SIGNED_OUT} runs: {count} sent by the same student, "
        "0 by another, 0 lost"
    )


def test_an_old_token_never_costs_the_student_a_tap(
    nors, live_server, settings, draw, troubles, figures
):
    # What is sent with a token that has just grown old is refused once, and sent with a new one.
    troubles.allow("403")
    ways = ("gone", "of another release", "of another key")
    for number in range(TOKENS):
        page = nors.context.new_page()
        saved_without_signal(nors, page, words=f"token {number}")
        how = ways[number % len(ways)]
        if how == "of another key":
            settings.SECRET_KEY = f"{draw(number).getrandbits(400):x}"
        else:
            nors.context.clear_cookies(name=django_settings.CSRF_COOKIE_NAME)
        if how == "of another release":
            name = django_settings.CSRF_COOKIE_NAME
            cookie = {"name": name, "value": "x" * 32, "url": live_server.url}
            nors.context.add_cookies([cookie])

        nors.context.set_offline(False)

        phones.says_saved_there(page)
        page.close()

    assert CheckIn.objects.count() == TOKENS
    figures.append(f"tokens grown old, {TOKENS} runs: {TOKENS} sent, 0 taps of the student")
