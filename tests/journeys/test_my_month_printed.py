"""My month on paper: one page, black on white, whatever the screen shows."""

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect

from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def month(live_server, phone: Page) -> Page:
    """The fullest month there can be: 62 days, a note each, and 500 letters from the teacher."""
    studio = makers.a_studio()
    nor = makers.a_student(studio)
    begun = makers.today(studio) - timedelta(days=61)
    words = "Breathe low, start softly and let the note ring. " * 10
    block = makers.a_block(nor, first_day=begun, length_days=62, message=words)
    for number in range(62):
        day = begun + timedelta(days=number)
        makers.a_check_in(nor, block=block, day=day, high_note=84 + number % 5)
    name, _, secret = makers.a_grant(nor).cookie.partition(".")
    phone.context.add_cookies(
        [{"name": "filar_d", "value": f"{name}.{secret}", "url": live_server.url}]
    )
    phone.goto(f"{live_server.url}/practice/{nor.public_id}/month")
    return phone


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_fullest_month_fits_one_page(month, paper):
    month.get_by_text("Show as table").first.click()

    printed = month.pdf(format=paper)

    # A page of a PDF is an object of this type (ISO 32000-1, 7.7.3.3).
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_paper_is_black_on_white_in_either_theme(month, scheme):
    month.emulate_media(media="print", color_scheme=scheme)

    colours = month.evaluate(
        "() => { const found = getComputedStyle(document.documentElement);"
        " return [found.color, found.backgroundColor]; }"
    )

    assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]
    expect(month.locator(".printed")).to_have_text(" · Nor")
    expect(month.get_by_role("button", name="Print my chart")).to_be_hidden()


def test_the_button_prints(month):
    month.evaluate("() => { window.print = () => { document.body.dataset.printed = 'yes'; }; }")

    month.get_by_role("button", name="Print my chart").click()

    expect(month.locator("body[data-printed=yes]")).to_be_attached()
