"""The day rule on the phone, against the file that the server's rule is checked by.

The phone asks its own Intl, which reads the time zone database that Chromium brings (ICU), so two
copies of the IANA database and two reckonings are compared.
"""

import json

import pytest
from playwright.sync_api import Page

from tests import tree

from .small_site import Site

CASES = json.loads((tree.TOP / "tests/data/practice_days.json").read_text())["cases"]
RULE = "/static/js/outbox/day.js"
PRACTICE_DAYS = """async ([rule, cases]) => {
  const { practiceDay } = await import(rule);
  return cases.map(([moment, zone, ends]) => practiceDay(Date.parse(moment), zone, ends));
}"""
DAYS = "async ([rule, ...given]) => (await import(rule)).daysToFill(...given)"
WORDS = "async ([rule, day, how]) => (await import(rule)).dayWords(day, how)"


@pytest.fixture
def open_page(page: Page, site: Site) -> Page:
    """An empty page of the site, from which the module is loaded."""
    page.goto(f"{site.address}/today")
    return page


@pytest.mark.battery
def test_the_phone_finds_the_same_practice_day_in_a_thousand_cases(open_page, figures):
    found = open_page.evaluate(PRACTICE_DAYS, [RULE, CASES])

    assert found == [day for *_, day in CASES]
    figures.append(f"day rule on the phone: {len(CASES)} cases, 0 differ")


def test_a_zone_that_the_phone_does_not_know_is_no_error(open_page):
    case = ["2026-03-03T12:00:00Z", "Nowhere/At_All", "04:00"]

    assert open_page.evaluate(PRACTICE_DAYS, [RULE, [case]]) == ["2026-03-03"]


def test_the_days_to_fill_in_go_back_as_far_as_the_studio_says_and_blocks_run(open_page):
    facts = {"back": 3, "blocks": [["2026-02-28", "2026-03-01"], ["2026-03-03", "2026-03-30"]]}

    found = open_page.evaluate(DAYS, [RULE, "2026-03-04", "2026-03-03", facts])

    assert found == ["2026-03-04", "2026-03-03", "2026-03-01", "2026-02-28"]


@pytest.mark.parametrize(
    ("how", "said"),
    [("day", "Tuesday 3 March"), ("weekday", "Tuesday"), ("year", "3 March 2026")],
)
def test_a_day_is_said_as_people_say_it(open_page, how, said):
    assert open_page.evaluate(WORDS, [RULE, "2026-03-03", how]) == said
