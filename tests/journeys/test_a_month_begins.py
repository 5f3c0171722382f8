"""The whole job in two browsers: a teacher assigns, a student practises and checks in.

Nothing is mocked: a real server, a real database, a real session on the audio clock, only short
and fast (hold 2, rest 0, tempo 240, three notes).
"""

import re

import pytest
from playwright.sync_api import Page, expect

from progress.models import CheckIn
from studio.models import Grant
from studio.services.people import make_studio
from studio.words import GrantState

pytestmark = pytest.mark.django_db(transaction=True)

PASSWORD = "brass in the morning"


def press(page: Page, row: str, answer: str) -> None:
    """Press one of a row of ruled buttons, as a thumb does: on its words."""
    page.get_by_role("group", name=row).get_by_text(answer, exact=True).locator("..").click()


def sign_in(laptop: Page, address: str) -> None:
    laptop.goto(address)
    laptop.get_by_label("E-mail").fill("ada@filar.example")
    laptop.get_by_label("Password", exact=True).fill(PASSWORD)
    laptop.get_by_role("button", name="Sign in").click()
    expect(laptop).to_have_title(re.compile("Overview"))


def add_a_student(laptop: Page) -> None:
    laptop.get_by_role("link", name="Students", exact=True).click()
    laptop.get_by_role("link", name="Add a student").click()
    laptop.get_by_label("First name or nickname").fill("Nor")
    laptop.get_by_label("Instrument").select_option(label="B-flat trumpet")
    press(laptop, "Child or adult", "Child")
    laptop.get_by_label("Parent said yes on").fill("2026-01-10")
    laptop.get_by_role("button", name="Add the student").click()
    expect(laptop.get_by_role("heading", name="Nor", level=1)).to_be_visible()


def assign_a_short_block(laptop: Page) -> None:
    laptop.get_by_role("link", name="Assign a block", exact=True).last.click()
    expect(laptop.get_by_label("Nor")).to_be_checked()
    laptop.get_by_label("Hold", exact=True).fill("2")
    laptop.get_by_label("Rest", exact=True).fill("0")
    laptop.get_by_label("Tempo", exact=True).fill("240")
    laptop.get_by_label("Lowest").select_option(label="F♯4")
    laptop.get_by_label("Highest").select_option(label="G4 (usual start)")
    press(laptop, "Days off", "Sun")
    # Three notes of two counts at 240: 3 x 2 x 60 / 240 = 1.5 s.
    expect(laptop.locator("#sum")).to_contain_text("3 notes. 2 s a day, of which 2 s playing.")
    laptop.get_by_role("button", name="Assign to Nor").click()
    expect(laptop.get_by_role("heading", name="Assigned")).to_be_visible()


def make_a_link(laptop: Page) -> str:
    laptop.get_by_role("link", name="Nor").click()
    laptop.get_by_role("button", name="Make a link to send").click()
    return laptop.locator("#link").inner_text()


def pair_the_phone(phone: Page, link: str) -> None:
    phone.goto(link)
    expect(phone.get_by_role("heading", name="Use this phone for your long tones?")).to_be_visible()
    assert "#" not in phone.url
    assert "Nor" not in phone.content()
    phone.get_by_role("button", name="Use this phone").click()
    expect(phone.get_by_role("heading", name="Hi Nor")).to_be_visible()


def play_to_the_end(phone: Page) -> None:
    # One press on Today: the session begins by itself.
    phone.get_by_role("link", name="Start").click()
    expect(phone.get_by_text("Done.")).to_be_visible()
    expect(phone.get_by_role("heading", name="How did it go, Nor?")).to_be_visible()


def check_in(phone: Page) -> None:
    for row, answer in (
        ("a clean start", "8–9"),
        ("a full, centred sound", "6–7"),
        ("a steady middle", "8–9"),
        ("a neat ending", "10"),
    ):
        press(phone, row, answer)
    press(phone, "How hard was it?", "Some work")
    phone.get_by_role("button", name="Nothing hurt. Save for Nor").click()
    # On the phone at once; the teacher sees it when the server has echoed it.
    expect(phone.get_by_text("Your teacher can see it")).to_be_visible()


def test_a_teacher_assigns_and_a_student_practises_and_checks_in(
    live_server, laptop: Page, phone: Page
) -> None:
    make_studio(
        studio={"name": "Lower Mill Brass", "time_zone": "Europe/Oslo"},
        teacher={"name": "Ada Holm", "email": "ada@filar.example", "password": PASSWORD},
    )

    sign_in(laptop, live_server.url)
    add_a_student(laptop)
    assign_a_short_block(laptop)
    pair_the_phone(phone, make_a_link(laptop))
    play_to_the_end(phone)
    check_in(phone)
    laptop.get_by_role("link", name="Overview").click()

    row = laptop.get_by_role("listitem").filter(has_text="Hold 2 · Rest 0")
    expect(row).to_contain_text("Nor")
    expect(row).to_contain_text("1 of 1 day")
    expect(laptop.get_by_role("button", name="Yes, it is Nor’s")).to_be_visible()
    filed = CheckIn._base_manager.get()
    assert [filed.attack, filed.sound, filed.evenness, filed.release] == [4, 3, 4, 5]
    assert (filed.effort, filed.discomfort, filed.completed) == (6, "none", 1.0)
    assert filed.seconds in {1, 2}
    assert Grant._base_manager.get().state == GrantState.PROVISIONAL


def test_a_phone_signed_out_by_the_teacher_is_out_at_its_next_request(
    live_server, laptop: Page, phone: Page, troubles
) -> None:
    troubles.allow("404")
    make_studio(
        studio={"name": "Lower Mill Brass", "time_zone": "Europe/Oslo"},
        teacher={"name": "Ada Holm", "email": "ada@filar.example", "password": PASSWORD},
    )
    sign_in(laptop, live_server.url)
    add_a_student(laptop)
    laptop.get_by_role("button", name="Make a link to send").click()
    pair_the_phone(phone, laptop.locator("#link").inner_text())

    laptop.get_by_role("link", name="Back to Nor").click()
    laptop.get_by_role("button", name="Yes, confirm").click()
    laptop.get_by_role("button", name="Sign out").last.click()
    expect(laptop.get_by_text("Signed out: Nor")).to_be_visible()
    answer = phone.reload()

    assert answer is not None
    assert answer.status == 404
