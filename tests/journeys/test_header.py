"""The top bar on a phone: two lines of places, each big enough for a finger.

44 px: WCAG 2.2, success criterion 2.5.5 Target Size (Enhanced), 44 by 44 CSS pixels.
"""

import pytest
from playwright.sync_api import FloatRect, Page

from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
TARGET = 44
SIX_PLACES = """() => {
  const list = document.querySelector(".places ul");
  while (list.children.length < 6) {
    const one = list.lastElementChild.cloneNode(true);
    one.querySelector("a").textContent = "Review";
    list.lastElementChild.before(one);
  }
}"""


@pytest.fixture
def desk(live_server, laptop: Page) -> Page:
    teacher = makers.a_teacher()
    laptop.goto(f"{live_server.url}/sign-in")
    laptop.get_by_label("E-mail").fill(teacher.email)
    laptop.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    laptop.get_by_role("button", name="Sign in").click()
    laptop.wait_for_url("**/overview")
    return laptop


def boxes(page: Page, selector: str) -> list[FloatRect]:
    found = [one.bounding_box() for one in page.locator(selector).all()]
    return [box for box in found if box]


@pytest.mark.parametrize("width", [320, 390])
def test_six_places_stand_in_two_lines_of_a_phone_one_under_the_other(desk, width):
    desk.set_viewport_size({"width": width, "height": 800})
    desk.evaluate(SIX_PLACES)

    places = boxes(desk, ".places a")

    assert len(places) == 6
    assert len({box["y"] for box in places}) == 2
    assert len({box["x"] for box in places}) == 3
    assert desk.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [320, 390, 768, 1024, 1280])
def test_everything_in_the_top_bar_is_big_enough_for_a_finger(desk, width):
    desk.set_viewport_size({"width": width, "height": 800})

    targets = boxes(desk, ".top :is(a, button)")

    assert len(targets) >= 8
    assert min(min(box["width"], box["height"]) for box in targets) >= TARGET


def test_the_keyboard_goes_through_the_places_in_their_order(desk):
    desk.set_viewport_size({"width": 320, "height": 800})
    places, passed = desk.locator(".places a").all_inner_texts(), []

    for _ in range(len(places) + 4):
        desk.keyboard.press("Tab")
        passed.append(desk.evaluate("document.activeElement.textContent.trim()"))

    assert passed == ["Skip to the page", "Filar", *places, "Help", "Sign out"]
    assert places[0] == "Overview"
