"""A student's phone is open while the teacher signs it out, archives the student or erases them.

Out at the next request, nothing left to read on the phone, and what had not been sent goes to
nobody else. Source of the wish: ASVS 5.0.0, V7.4.2 and V14.3.1, from memory.
"""

from collections.abc import Callable

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled
from playwright.sync_api import Page, expect

from progress.models import CheckIn
from studio.models import Grant, Student
from studio.services import erase, pairing, people
from tests import makers
from tests.offline import phones

pytestmark = pytest.mark.django_db(transaction=True)


def sign_out(student: Student) -> None:
    for grant in Grant.objects.filter(student=student):
        pairing.sign_out_phone(grant, moment=timezone.now())


def refuse(student: Student) -> None:
    for grant in Grant.objects.filter(student=student):
        pairing.refuse_phone(grant, moment=timezone.now())


def archive(student: Student) -> None:
    people.archive_student(student, day=makers.today(student.studio), moment=timezone.now())


def erase_for_good(student: Student) -> None:
    erase.erase(student, by=None, moment=timezone.now())


HOW: dict[str, Callable[[Student], None]] = {
    "signed out": sign_out, "refused": refuse, "archived": archive, "erased": erase_for_good,
}  # fmt: skip


@pytest.fixture(autouse=True)
def strangers_get_404(troubles):
    troubles.allow("404")


@pytest.mark.battery
@pytest.mark.parametrize("how", list(HOW))
def test_a_phone_that_is_open_is_out_at_its_next_request_and_keeps_no_page(
    how, nors, nor, live_server, is_battery, figures
):
    times = 15 if is_battery else 1
    for number in range(times):
        student = nor if number == 0 else a_new_one(nors, nor.studio, live_server)
        shelf = f"filar-pages-{student.public_id}"
        today = f"{live_server.url}/practice/{student.public_id}"
        assert phones.kept(nors.page)[shelf] != []

        with scopes_disabled():
            HOW[how](student)
        answer = nors.page.request.get(today)
        nors.page.goto(today)

        assert answer.status == 404
        wait_for_wiping(nors.page, shelf)
        nors.context.set_offline(True)
        nors.page.goto(today)
        expect(nors.page.get_by_text("Open this once with signal first.")).to_be_visible()
        nors.context.set_offline(False)
    figures.append(f"a phone in use, {how}: {times} times, out at once, 0 pages left on it")


def wait_for_wiping(page: Page, shelf: str) -> None:
    phones.until(page, lambda: shelf not in phones.shelves(page))


def a_new_one(phone, studio, live_server) -> Student:
    """Set the same phone up for somebody else, and let it keep the pages."""
    student = makers.a_student(studio, name="Sam")
    makers.a_block(student, weekdays_off=[])
    phones.paired(phone.context, live_server.url, makers.a_grant(student))
    phones.keeps_everything(phone.page, f"{live_server.url}/practice/{student.public_id}")
    return student


@pytest.mark.parametrize(
    "how",
    [
        "erased",
        *(
            pytest.param(one, marks=pytest.mark.battery(only=True))
            for one in HOW
            if one != "erased"
        ),
    ],
)
def test_what_had_not_been_sent_stays_on_the_phone_and_goes_to_nobody_else(
    how, nors, nor, live_server
):
    nors.context.set_offline(True)
    nors.open_check_in()
    phones.fill(nors.page, words="not sent yet")
    phones.save(nors.page)
    phones.says_saved_here(nors.page)
    with scopes_disabled():
        HOW[how](nor)
    nors.context.set_offline(False)
    sam = a_new_one(nors, nor.studio, live_server)

    expect(nors.page.get_by_text("1 check-in is still on this phone.")).to_be_visible()

    assert [row["student"] for row in phones.rows(nors.page)] == [nor.public_id]
    with scopes_disabled():
        assert not CheckIn.objects.filter(student=sam).exists()
        assert not CheckIn.objects.filter(words="not sent yet").exists()
