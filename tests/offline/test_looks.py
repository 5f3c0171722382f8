"""Every state of a student's pages without signal: axe finds nothing, a thumb hits everything.

axe-core is an independent checker of WCAG 2.2 (Deque, MPL-2.0). 44 px is success criterion 2.5.5
(Target Size, Enhanced); 48 px is what these pages promise. The taps are counted as a student taps.
"""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests import makers
from tests.offline import phones
from tests.offline.test_room_and_taps import FULL

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.battery]
TARGET, PAUSE = 48, 96
TAPS_TO_PLAY = 2
TAPS_FROM_THE_ICON = 8
SECONDS_A_TAP = 1.1
SECONDS = 20
VIEWS = ((320, "light"), (390, "dark"), (320, "dark"), (390, "light"))
TARGETS = """() => [...document.querySelectorAll(
    "a, button, summary, select, textarea, .choice, .tick")]
  .filter((one) => one.checkVisibility() && !one.classList.contains("skip")
    && getComputedStyle(one).display !== "inline")
  .map((one) => [one.textContent.trim().slice(0, 30), one.getBoundingClientRect()])
  .map(([words, box]) => [words, Math.round(box.width), Math.round(box.height)])"""


@pytest.fixture
def look(is_battery):
    """Look at a state at both widths and in both themes; in `make battery` at each with each."""
    views = VIEWS if is_battery else VIEWS[:2]
    return lambda page, state: _look(page, state, views)


def _look(page: Page, state: str, views: Sequence[tuple[int, str]]) -> None:
    """Let axe read a state, measure what can be tapped, and set its text to twice the size."""
    for width, scheme in views:
        page.set_viewport_size({"width": width, "height": 844})
        # Less motion, so that no colour is read half-way to the other theme.
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # type: ignore[arg-type]
        where = f"{state} at {width} px, {scheme}"
        found = Axe().run(page)
        assert not found.response["violations"], f"{where}\n{found.generate_report()}"
        assert too_small(page) == [], where
        for size in ("", "200%"):
            page.evaluate("size => { document.documentElement.style.fontSize = size; }", size)
            assert sideways(page) <= 0, f"{where}, text {size or 'as usual'}"
        page.evaluate("() => { document.documentElement.style.fontSize = ''; }")


def too_small(page: Page) -> list[list[object]]:
    return [one for one in page.evaluate(TARGETS) if min(one[1], one[2]) < TARGET]


def sideways(page: Page) -> int:
    wide: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return wide


def saved_without_signal(phone) -> None:
    phone.context.set_offline(True)
    phone.open_check_in()
    phones.without_background(phone.page)
    phones.fill(phone.page)
    phones.save(phone.page)
    phones.says_saved_here(phone.page)


def test_the_check_in_takes_eight_taps_from_the_icon(nors, live_server, figures):
    taps = 1  # the icon, which opens the first page
    nors.page.goto(f"{live_server.url}/practice")
    for button in (
        nors.page.get_by_role("link", name="Check in"),
        *(nors.page.locator(f"#id_{name} .choice").nth(3) for name in phones.ANSWERS),
        nors.page.get_by_role("button", name="Nothing hurt. Save for Nor"),
    ):
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= TARGET
        button.tap()
        taps += 1

    phones.says_saved_there(nors.page)
    assert taps <= TAPS_FROM_THE_ICON
    assert taps * SECONDS_A_TAP <= SECONDS
    figures.append(f"check-in from the icon: {taps} taps, {taps * SECONDS_A_TAP:.1f} s")


@pytest.mark.parametrize("signal", ["with signal", "without signal"])
def test_a_session_runs_after_two_taps_from_the_icon(nors, live_server, figures, signal):
    nors.context.set_offline(signal == "without signal")
    taps = 1  # the icon
    nors.page.goto(f"{live_server.url}/practice")
    nors.page.get_by_role("link", name="Start").tap()
    taps += 1

    expect(nors.page.locator("[data-view=running]")).to_be_attached()
    pause = nors.page.get_by_role("button", name="Pause").bounding_box()
    assert pause is not None
    assert pause["height"] >= PAUSE
    assert taps <= TAPS_TO_PLAY
    figures.append(f"session from the icon, {signal}: {taps} taps; Pause {pause['height']:.0f} px")


def test_what_is_seen_without_signal(nors, look):
    nors.context.set_offline(True)
    nors.page.goto(nors.today)
    expect(nors.page.get_by_text("No signal. Today’s session is on this phone.")).to_be_visible()
    nors.page.locator("summary", has_text="Not today").click()
    look(nors.page, "Today without signal")
    nors.open_check_in()
    nors.page.get_by_text("Tell more, if you like").click()
    nors.page.get_by_text("Something hurt", exact=True).click()
    nors.page.get_by_text("Change", exact=True).click()
    look(nors.page, "the check-in without signal")
    nors.page.goto(f"{nors.today}/month")
    look(nors.page, "my month without signal")
    nors.page.goto("/practice/0123456789abcdef".join([nors.today.rsplit("/practice/", 1)[0], ""]))
    expect(nors.page.get_by_text("Open this once with signal first.")).to_be_visible()
    look(nors.page, "a page that is not on this phone")


def test_what_is_seen_of_a_check_in_that_waits(nors, look):
    saved_without_signal(nors)
    look(nors.page, "saved on this phone")
    nors.page.goto(nors.today)
    expect(nors.page.get_by_text("1 check-in waits on this phone.")).to_be_visible()
    look(nors.page, "Today with what waits")
    nors.page.goto(f"{nors.today}/check-in")
    expect(nors.page.get_by_role("button", name="Change it")).to_be_visible()
    look(nors.page, "a day that was filed")


def test_what_is_seen_on_a_phone_that_was_signed_out(nors, live_server, troubles, look):
    troubles.allow("404")
    saved_without_signal(nors)
    nors.paired.grant.ended_at = timezone.now()
    nors.paired.grant.save()

    nors.context.set_offline(False)

    expect(nors.page.get_by_text("This phone was signed out.")).to_be_visible()
    look(nors.page, "saved on a phone that was signed out")
    nors.page.goto(f"{live_server.url}/practice")
    expect(nors.page.get_by_text("1 check-in is still on this phone.")).to_be_visible()
    look(nors.page, "who is practising, signed out")


def test_what_is_seen_of_a_phone_without_room(nors, look):
    nors.context.set_offline(True)
    nors.open_check_in()
    nors.page.evaluate(FULL["opening is refused"])
    phones.fill(nors.page)
    phones.save(nors.page)

    expect(nors.page.get_by_text("This phone has no room to save.")).to_be_visible()
    look(nors.page, "no room")


def test_what_is_seen_of_a_wrong_clock(nors, look):
    nors.page.clock.set_fixed_time(datetime(2031, 5, 3, 12, 0, tzinfo=UTC))
    nors.page.goto(f"{nors.today}/check-in")

    expect(nors.page.get_by_text("Your phone says 3 May 2031.")).to_be_visible()
    look(nors.page, "a wrong clock")


def test_what_is_seen_after_midnight(make_phone, look):
    zone = makers.zone_where_it_is(0)
    student = makers.a_student(makers.a_studio(time_zone=zone))
    makers.a_block(student, weekdays_off=[])
    phone = make_phone(student, timezone_id=zone)
    phone.open_check_in()

    expect(phone.page.locator("[data-midnight]")).to_be_visible()
    look(phone.page, "after midnight")


def test_what_was_not_taken_is_shown_on_today_and_can_be_mended(nors, troubles, look):
    troubles.allow("422")
    saved_without_signal(nors)
    block = nors.student.block_set.get()
    block.first_day = makers.today(nors.student.studio) + timedelta(days=1)
    block.save()
    nors.context.set_offline(False)

    expect(nors.page.get_by_text("Your teacher cannot see it yet.")).to_be_visible()
    look(nors.page, "a check-in that was not taken")
    nors.page.goto(nors.today)
    expect(nors.page.get_by_role("link", name="Look at it")).to_be_visible()
    nors.page.get_by_text("Delete it", exact=True).click()
    # The page asks again whenever it is shown; that must not fold up what was opened.
    with nors.page.expect_response("**/practice/phone"):
        nors.page.evaluate("() => document.dispatchEvent(new Event('filar:put'))")
    look(nors.page, "Today with what was not taken")
    nors.page.get_by_role("button", name="Delete it for good").click()
    phones.until(nors.page, lambda: phones.rows(nors.page) == [])
