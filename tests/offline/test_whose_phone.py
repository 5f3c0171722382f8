"""A phone that is signed out, lent or shared: nothing is lost, nothing goes to somebody else."""

import re

import pytest
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import expect

from progress.models import CheckIn
from tests import makers
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)

SHELVES_SEEN = """
  window.shelvesSeen = new Set();
  (async function look() {
    for (const name of await caches.keys()) window.shelvesSeen.add(name);
    setTimeout(look, 0);
  })();
"""


def saved_without_signal(phone, words: str = "") -> None:
    phone.context.set_offline(True)
    phone.open_check_in()
    phones.fill(phone.page, words=words)
    phones.save(phone.page)
    phones.says_saved_here(phone.page)


def sign_out(paired: makers.PairedPhone) -> None:
    paired.grant.ended_at = timezone.now()
    paired.grant.save()


@pytest.fixture(autouse=True)
def strangers_get_404(troubles):
    troubles.allow("404")


def test_what_waits_on_a_phone_that_was_signed_out_stays_and_is_said(nors, live_server):
    saved_without_signal(nors)
    sign_out(nors.paired)
    nors.context.set_offline(False)

    nors.page.goto(f"{live_server.url}/practice")

    expect(
        nors.page.get_by_text("1 check-in is still on this phone. It goes when you are back in.")
    ).to_be_visible()
    assert len(phones.rows(nors.page)) == 1
    assert not CheckIn.objects.exists()


def test_the_page_that_is_open_says_that_the_phone_was_signed_out(nors):
    saved_without_signal(nors)
    sign_out(nors.paired)

    nors.context.set_offline(False)

    expect(nors.page.get_by_text("This phone was signed out.")).to_be_visible()
    expect(nors.page.get_by_text("Saved on this phone.")).to_be_visible()
    expect(nors.page.get_by_text("Your teacher can see it.")).to_be_hidden()


def test_the_pages_of_a_student_who_was_signed_out_are_forgotten(nors, nor, live_server):
    assert phones.kept(nors.page)[f"filar-pages-{nor.public_id}"] != []
    sign_out(nors.paired)

    nors.page.goto(f"{live_server.url}/practice")

    phones.until(nors.page, lambda: f"filar-pages-{nor.public_id}" not in phones.shelves(nors.page))
    nors.context.set_offline(True)
    nors.page.goto(nors.today)
    expect(nors.page.get_by_text("Open this once with signal first.")).to_be_visible()


def test_todays_page_itself_finds_out_that_the_phone_was_signed_out(nors, nor):
    sign_out(nors.paired)

    nors.page.goto(nors.today)

    phones.until(nors.page, lambda: f"filar-pages-{nor.public_id}" not in phones.shelves(nors.page))


def test_a_page_that_is_not_found_makes_no_shelf_of_a_student_who_is_gone(nors, nor):
    sign_out(nors.paired)
    nors.page.goto(nors.today)
    phones.until(nors.page, lambda: f"filar-pages-{nor.public_id}" not in phones.shelves(nors.page))
    # The worker makes a shelf while the page loads, and the page clears it away soon after.
    nors.context.add_init_script(SHELVES_SEEN)

    nors.page.goto(f"{nors.today}/session")

    nors.page.wait_for_timeout(500)
    seen = nors.page.evaluate("() => [...window.shelvesSeen]")
    assert seen == ["filar-files"]


def test_set_up_again_for_the_same_student_it_is_sent(nors, nor, live_server):
    saved_without_signal(nors, words="before the new link")
    sign_out(nors.paired)
    nors.context.set_offline(False)
    expect(nors.page.get_by_text("This phone was signed out.")).to_be_visible()

    phones.paired(nors.context, live_server.url, makers.a_grant(nor))
    nors.page.goto(nors.today)

    phones.until(nors.page, lambda: phones.rows(nors.page) == [])
    assert [(row.student, row.words) for row in CheckIn.objects.all()] == [
        (nor, "before the new link")
    ]


def test_set_up_for_another_student_it_is_never_sent(nors, nor, live_server):
    saved_without_signal(nors)
    sign_out(nors.paired)
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_block(sam, weekdays_off=[])
    phones.paired(nors.context, live_server.url, makers.a_grant(sam))
    asked: list[str] = []
    nors.context.on("request", lambda request: asked.append(f"{request.method} {request.url}"))

    nors.context.set_offline(False)
    nors.page.goto(f"{live_server.url}/practice")

    expect(nors.page.get_by_role("heading", name="Hi Sam")).to_be_visible()
    expect(nors.page.get_by_text("1 check-in is still on this phone.")).to_be_visible()
    assert len(phones.rows(nors.page)) == 1
    assert not CheckIn.objects.exists()
    assert [one for one in asked if one.startswith("POST")] == []


def test_two_students_on_one_phone_each_send_their_own(nors, nor, live_server):
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_block(sam, weekdays_off=[])
    phones.paired(nors.context, live_server.url, nors.paired, makers.a_grant(sam))
    sams = nors.today.replace(nor.public_id, sam.public_id)
    phones.keeps_everything(nors.page, sams)
    nors.context.set_offline(True)

    nors.page.goto(f"{live_server.url}/practice")
    for name in ("Nor", "Sam"):
        expect(nors.page.get_by_role("link", name=name)).to_be_visible()
    for today, words in ((nors.today, "by Nor"), (sams, "by Sam")):
        nors.page.goto(f"{today}/check-in")
        phones.is_ready(nors.page)
        phones.fill(nors.page, words=words)
        phones.save(nors.page)
        phones.says_saved_here(nors.page)
    nors.context.set_offline(False)

    phones.until(nors.page, lambda: phones.rows(nors.page) == [])
    found = {(row.student.name, row.words) for row in CheckIn.objects.all()}
    assert found == {("Nor", "by Nor"), ("Sam", "by Sam")}


def test_a_phone_that_is_set_up_just_this_once_keeps_no_page(nor, make_phone):
    phone = make_phone(nor, kind="once")
    phone.page.goto(phone.today)
    phone.page.evaluate("() => navigator.serviceWorker.ready.then(() => null)")
    phone.page.goto(f"{phone.today}/check-in")
    phones.is_ready(phone.page)

    everything = [path for paths in phones.kept(phone.page).values() for path in paths]

    assert [path for path in everything if re.search("[0-9a-f]{16}", path)] == []


@pytest.mark.parametrize("how", ["gone", "of another release"])
def test_a_token_that_has_grown_old_needs_nothing_of_the_student(nors, live_server, troubles, how):
    troubles.allow("403")  # the old token is refused once, and a fresh one asked for
    saved_without_signal(nors)
    nors.context.clear_cookies(name=settings.CSRF_COOKIE_NAME)
    if how == "of another release":
        other = {"name": settings.CSRF_COOKIE_NAME, "value": "x" * 32, "url": live_server.url}
        nors.context.add_cookies([other])

    nors.context.set_offline(False)

    phones.says_saved_there(nors.page)
    assert CheckIn.objects.count() == 1
    assert phones.rows(nors.page) == []


def test_no_token_waits_with_a_check_in(nors):
    saved_without_signal(nors)

    row = phones.rows(nors.page)[0]

    assert "csrf" not in str(row).lower()
    assert set(row) == {
        "key", "kind", "student", "url", "body", "hash", "sure", "put_at", "problem",
    }  # fmt: skip
