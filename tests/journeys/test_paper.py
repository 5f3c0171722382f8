"""A paper chart in a browser: typed in by keyboard alone, and printed."""

import re
from datetime import timedelta

import pytest
from django_scopes import scopes_disabled
from playwright.sync_api import expect

from progress.models import CheckIn
from progress.views.report import PAGES_AT_ONCE
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
MOST_PRESSES = 150


@pytest.fixture
def teacher():
    return makers.a_teacher(email="runa@filar.example")


@pytest.fixture
def block(teacher):
    nor = makers.a_student(makers.studio_of(teacher))
    first = makers.today(nor.studio) - timedelta(days=23)
    return makers.a_block(nor, first_day=first, weekdays_off=[])


def open_page(laptop, live_server, path):
    laptop.goto(f"{live_server.url}/sign-in?next={path}")
    laptop.get_by_label("E-mail").fill("runa@filar.example")
    laptop.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    laptop.keyboard.press("Enter")


def pages_of(laptop) -> tuple[int, bytes]:
    """Print what is shown, and count the pages in the file (ISO 32000, page objects)."""
    laptop.wait_for_load_state()  # words are there before their style sheet is
    printed = laptop.pdf(prefer_css_page_size=True)
    return len(re.findall(rb"/Type\s*/Page\b", printed)), printed


def test_twenty_four_days_take_at_most_150_presses(laptop, live_server, block, figures):
    open_page(laptop, live_server, f"/paper/{block.public_id}/enter")
    expect(laptop.get_by_role("heading", name="What stands on")).to_be_visible()
    # Whoever types sees where: the first line is ready.
    expect(laptop.locator(".paper-line").first).to_be_focused()
    presses = 0

    for day in range(24):
        for sign in "44354" if day % 2 else "5-345":
            laptop.keyboard.press(sign)
        laptop.keyboard.press("Enter")
        presses += 6
    for key in ("Space", "Tab", "Enter"):
        laptop.keyboard.press(key)
        presses += 1

    expect(laptop.get_by_text("Added.")).to_be_visible()
    figures.append(f"a paper month of 24 days: {presses} key presses")
    assert presses <= MOST_PRESSES
    with scopes_disabled():
        assert CheckIn.objects.filter(student=block.student).count() == 24
        assert {row.done_at.date() - row.day for row in CheckIn.objects.all()} == {timedelta(0)}


@pytest.mark.parametrize("size", ["a4", "letter"])
def test_every_student_is_one_page_on_paper(laptop, live_server, block, size):
    for name, instrument in (("Ada", "tuba_bbb"), ("Luz", "trombone_tenor"), ("Silas", "horn_f")):
        student = makers.a_student(block.student.studio, name=name, instrument=instrument)
        makers.a_block(student, length_days=31, message="Slow air, soft start. " * 8)
    open_page(laptop, live_server, f"/paper%3Fsize={size}")
    expect(laptop.get_by_text("4 pages, one student a page.")).to_be_visible()

    pages, printed = pages_of(laptop)

    assert pages == 4
    box = {"a4": rb"594.9\d+ 841.9\d+", "letter": rb"612 792"}[size]
    assert re.search(rb"/MediaBox \[0 0 " + box, printed)


def test_the_whole_studios_reports_are_made_with_the_pages_counted(laptop, live_server, block):
    for number in range(7):
        student = makers.a_student(block.student.studio, name=f"Player {number}")
        makers.a_block(student)
    open_page(laptop, live_server, "/reports")
    laptop.get_by_role("link", name="Print 8 pages").click()

    expect(laptop.get_by_text("8 pages, one student a page.")).to_be_visible()

    expect(laptop.locator(".report-page")).to_have_count(8)
    assert pages_of(laptop)[0] == 8


def test_making_many_pages_can_be_called_off(laptop, live_server, block):
    """The second answer is held back, so that the page stands half-way."""
    for number in range(PAGES_AT_ONCE + 2):
        makers.a_student(block.student.studio, name=f"Player {number}")
    laptop.route(re.compile(f"made={PAGES_AT_ONCE}"), lambda _route: None)
    open_page(laptop, live_server, "/reports/print")

    said = f"{PAGES_AT_ONCE} of {PAGES_AT_ONCE + 3} pages made."
    expect(laptop.get_by_text(said)).to_be_visible()
    laptop.get_by_role("link", name="Cancel").click()

    expect(laptop.get_by_role("heading", name="Reports for families")).to_be_visible()
