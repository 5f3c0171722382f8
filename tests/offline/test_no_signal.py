"""Without signal: the pages open, the check-in is kept, and it is sent once there is signal."""

import re

import pytest
from playwright.sync_api import expect

from progress.models import CheckIn, NotToday
from tests import makers
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)


def test_from_the_second_visit_on_every_page_opens_without_signal(nors):
    nors.context.set_offline(True)

    nors.page.goto(f"{nors.today.rsplit('/', 1)[0]}")
    expect(nors.page.get_by_role("heading", name="Hi Nor")).to_be_visible()
    expect(nors.page.get_by_text("No signal. Today’s session is on this phone.")).to_be_visible()
    for path, heading in (
        ("/session", "Nor"),
        ("/check-in", "How did it go, Nor?"),
        ("/month", "My month"),
    ):
        nors.page.goto(nors.today + path)
        expect(nors.page.get_by_text(heading).first).to_be_visible()


def test_a_session_can_be_started_without_signal(nors):
    nors.context.set_offline(True)
    nors.page.goto(f"{nors.today}/session")

    nors.page.get_by_role("button", name=re.compile("^Start")).click()

    expect(nors.page.get_by_role("button", name="Pause")).to_be_visible()


def test_a_page_that_was_never_opened_with_signal_says_so(nors, nor):
    sam = makers.a_student(nor.studio, name="Sam")
    nors.context.set_offline(True)

    nors.page.goto(nors.today.replace(nor.public_id, sam.public_id))

    expect(nors.page.get_by_text("Open this once with signal first.")).to_be_visible()


def test_a_check_in_is_kept_and_sent_when_there_is_signal(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page, words="in the cellar")
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    assert not CheckIn.objects.exists()

    nors.context.set_offline(False)

    phones.says_saved_there(nors.page)
    assert [row.words for row in CheckIn.objects.all()] == ["in the cellar"]
    assert phones.rows(nors.page) == []


def test_what_waits_is_said_on_today_and_outlives_the_app(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    nors.page.close()

    again = nors.context.new_page()
    again.goto(nors.today)
    expect(again.get_by_text("1 check-in waits on this phone.")).to_be_visible()
    nors.context.set_offline(False)

    expect(again.get_by_text("Done for today.")).to_be_visible()
    expect(again.get_by_text("1 check-in waits on this phone.")).to_be_hidden()
    assert CheckIn.objects.count() == 1


def test_a_check_in_with_signal_is_said_to_be_seen_only_after_the_echo(nors):
    nors.open_check_in()
    phones.fill(nors.page)

    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    assert CheckIn.objects.count() == 1


def test_a_lost_reply_sends_it_again_and_counts_it_once(nors):
    nors.open_check_in()
    phones.without_background(nors.page)
    nors.page.evaluate("() => { window.lose.replies = 2; }")
    phones.fill(nors.page)

    phones.save(nors.page)

    phones.says_saved_there(nors.page)
    assert len(nors.page.evaluate("() => window.lose.posts")) == 3
    assert CheckIn.objects.count() == 1


def test_the_worker_sends_by_itself_when_the_app_is_closed(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    other = nors.context.new_page()
    other.goto("about:blank")
    nors.page.close()

    nors.context.set_offline(False)

    phones.until(other, lambda: CheckIn.objects.count() == 1)


def test_not_today_takes_two_taps_and_waits_like_a_check_in(nors):
    nors.context.set_offline(True)
    nors.page.goto(nors.today)

    nors.page.locator("summary", has_text="Not today").click()
    nors.page.get_by_role("button", name="Away").click()
    phones.says_saved_here(nors.page)
    nors.context.set_offline(False)

    expect(nors.page.get_by_text("“Not today” waits on this phone.")).to_be_hidden()
    expect(nors.page.get_by_text("Change that")).to_be_visible()
    assert [row.reason for row in NotToday.objects.all()] == ["away"]


def test_a_missing_answer_is_asked_for_without_signal_too(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page)
    nors.page.evaluate(
        "() => { for (const one of document.querySelectorAll('[name=sound]')) "
        "one.checked = false; }"
    )

    phones.save(nors.page)
    expect(nors.page.locator("#id_sound").get_by_text("Pick one.")).to_be_visible()
    nors.page.get_by_role("button", name="Nothing hurt. Save anyway").click()

    phones.says_saved_here(nors.page)


def test_what_hurt_is_answered_with_care_before_and_after_it_is_sent(nors):
    nors.context.set_offline(True)
    nors.open_check_in()
    nors.page.get_by_text("Something hurt", exact=True).click()
    nors.page.locator("#id_place").get_by_text("Dizzy").click()
    nors.page.locator("#id_how_much").get_by_text("A little").click()
    nors.page.get_by_role("button", name="Save, and tell my teacher").click()

    expect(nors.page.get_by_text("Tell a grown-up or your teacher now.")).to_be_visible()
    expect(nors.page.get_by_text("Stop, sit down and breathe normally.")).to_be_visible()
    nors.context.set_offline(False)
    expect(nors.page.get_by_text("Your teacher has been told.")).to_be_visible()
