"""Letters of twice the size, and the keyboard alone, on every page and state of a student's phone.

WCAG 2.2, success criteria 1.4.4 (Resize Text, to 200 %), 1.4.10 (Reflow, at 320 px), 2.1.1
(Keyboard) and 2.4.11 (Focus Not Obscured). axe-core is an independent checker (Deque, MPL-2.0).
The session itself is looked at in tests/js.
"""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from progress.models import CheckIn
from tests import makers
from tests.offline import phones
from tests.offline.test_looks import VIEWS, sideways

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.battery]
TWICE = "() => { document.documentElement.style.fontSize = '200%'; }"
# Words that a box hides, or that reach over the edge of the page.
CUT_OFF = """() => [...document.querySelectorAll("main *")]
  .filter((part) => part.checkVisibility() && !part.closest("svg, .unseen, .skip, [tabindex='0']")
    && !(part instanceof HTMLInputElement) && part.textContent.trim() !== "")
  .filter((part) => {
    const hides = getComputedStyle(part).overflowX === "hidden";
    const box = part.getBoundingClientRect();
    return (hides && part.scrollWidth > part.clientWidth + 1)
      || box.right > document.documentElement.clientWidth + 1 || box.left < -1;
  })
  .map((part) => `${part.className || part.tagName}: ${part.textContent.trim().slice(0, 30)}`)"""
HIDDEN_FOCUS = """() => {
  const held = document.activeElement.closest("label, .choice, .tick") ?? document.activeElement;
  const box = held.getBoundingClientRect();
  const there = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  return held.contains(there) || there?.contains(held) ? "" : held.textContent.trim();
}"""


@pytest.fixture
def look(is_battery):
    """Look at a page with its letters set to twice the size."""
    views = VIEWS if is_battery else VIEWS[:2]

    def looked(page: Page, state: str) -> None:
        for width, scheme in views:
            page.set_viewport_size({"width": width, "height": 844})
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
            page.evaluate(TWICE)
            where = f"{state} at {width} px, {scheme}, text 200 %"
            found = Axe().run(page)
            assert not found.response["violations"], f"{where}\n{found.generate_report()}"
            assert sideways(page) <= 0, where
            assert page.evaluate(CUT_OFF) == [], where

    return looked


@pytest.mark.parametrize("state", ["due", "off", "ahead", "over", "none", "hurt", "done", "waits"])
def test_today_and_my_month_in_every_state(studio, make_phone, look, state):
    today = makers.today(studio)
    student = makers.a_student(studio, name="Maximiliana")
    begins = {"ahead": 3, "over": -60}.get(state, -14)
    off = [today.weekday()] if state == "off" else []
    if state != "none":
        first = today + timedelta(days=begins)
        block = makers.a_block(
            student, first_day=first, weekdays_off=off, message="Listen to the end of each note."
        )
        for number in range(1, 14) if begins == -14 else ():
            day = today - timedelta(days=number)
            makers.a_check_in(student, block=block, day=day, high_note=74 + number % 5)
    if state == "hurt":
        makers.a_discomfort(student, day=today)
    if state == "done":
        makers.a_check_in(student, block=block, day=today)
    phone = make_phone(student)
    if state == "waits":
        phones.keeps_everything(phone.page, phone.today)
        phone.context.set_offline(True)
        phone.open_check_in()
        phones.without_background(phone.page)
        phones.fill(phone.page)
        phones.save(phone.page)
        phones.says_saved_here(phone.page)
        look(phone.page, "saved on this phone")

    phone.page.goto(phone.today)
    look(phone.page, f"Today, {state}")
    phone.page.goto(f"{phone.today}/month")
    look(phone.page, f"my month, {state}")


def test_the_check_in_in_every_state(nors, live_server, look):
    nors.open_check_in()
    look(nors.page, "the check-in")
    nors.page.get_by_role("button", name="Nothing hurt. Save for").click()
    look(nors.page, "the check-in with what is missing")
    nors.page.get_by_text("Tell more, if you like").click()
    nors.page.get_by_text("Change", exact=True).click()
    nors.page.get_by_text("Something hurt", exact=True).click()
    look(nors.page, "the check-in, unfolded")
    nors.page.locator("#id_place").get_by_text("Dizzy").click()
    nors.page.locator("#id_how_much").get_by_text("A little").click()
    nors.page.get_by_role("button", name="Save, and tell my teacher").click()
    expect(nors.page.get_by_text("Your teacher has been told.")).to_be_visible()
    look(nors.page, "something hurt, saved")
    nors.page.goto(f"{nors.today}/check-in")
    expect(nors.page.get_by_role("button", name="Change it")).to_be_visible()
    look(nors.page, "a day that was filed")


def test_who_is_practising(nors, nor, live_server, look):
    sam = makers.a_student(nor.studio, name="Maximiliana-Theodora")
    makers.a_block(sam)
    phones.paired(nors.context, live_server.url, nors.paired, makers.a_grant(sam))
    for path in ("/practice", "/practice/no-signal", "/pair"):
        nors.page.goto(live_server.url + path)
        look(nors.page, path)


def reach(page: Page, name: str, key: str = "Tab") -> None:
    """Go on with one key until the part that is held has this name; it is never out of sight."""
    for _ in range(80):
        page.keyboard.press(key)
        assert page.evaluate(HIDDEN_FOCUS) == ""
        held = page.evaluate(
            """() => {
              const held = document.activeElement;
              const label = held.labels?.[0]?.textContent ?? held.textContent;
              return `${held.name ?? ""} ${label}`.replace(/\\s+/g, " ").trim();
            }"""
        )
        if name in held:
            return
    raise AssertionError(f"{name} cannot be reached with {key}.")


def test_the_keyboard_alone_files_a_check_in_from_today(nors):
    nors.page.set_viewport_size({"width": 390, "height": 844})
    nors.page.goto(nors.today)
    reach(nors.page, "Check in")
    nors.page.keyboard.press("Enter")
    nors.page.wait_for_url("**/check-in")
    phones.is_ready(nors.page)
    for answer in phones.ANSWERS:
        reach(nors.page, answer)
        nors.page.keyboard.press("ArrowRight")
        nors.page.keyboard.press("ArrowRight")
    reach(nors.page, "Nothing hurt. Save for")
    nors.page.keyboard.press("Enter")

    phones.says_saved_there(nors.page)
    expect(nors.page.get_by_role("heading", name="Saved")).to_be_focused()
    row = CheckIn.objects.get()
    assert None not in {getattr(row, name) for name in phones.ANSWERS}


def test_the_keyboard_alone_says_that_something_hurt(nors):
    nors.open_check_in()
    reach(nors.page, "Something hurt")
    nors.page.keyboard.press("Enter")
    reach(nors.page, "place")
    nors.page.keyboard.press("Space")
    reach(nors.page, "how_much")
    nors.page.keyboard.press("Space")
    reach(nors.page, "Save, and tell my teacher")
    nors.page.keyboard.press("Enter")

    expect(nors.page.get_by_text("Your teacher has been told.")).to_be_visible()
    assert CheckIn.objects.get().discomfort == "mild"
