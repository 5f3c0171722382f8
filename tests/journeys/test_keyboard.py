"""Every page by keyboard: Tab reaches all that can be pressed or filled in, and comes round.

WCAG 2.2: 2.1.1 and 2.1.2 (keyboard, no trap), 2.4.7 (focus is visible), 2.4.11 (and not covered).
The pages are not listed here: they are all the addresses that docs/roles.md says are shown to a
role, so that a new page is walked through as soon as it has its row.
"""

import json
from http.cookies import SimpleCookie
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests import makers
from tests.roles import NO_PAGES, Address, pages_of, table
from tests.test_roles import a_world

pytestmark = pytest.mark.django_db(transaction=True)

# Who walks where: a page is walked through once, by the first of these who is shown it.
WALKERS = ("owner", "student", "parent", "anonymous")
# Pages whose scripts first look at the phone, or fetch the rest of the page.
READY = {"progress:check_in": "form[data-ready]", "progress:print_reports": "[data-print]"}
RING = 2
# A date has a stop for each of its parts, so a page takes more presses than it has things.
PARTS_OF_A_DATE = 4
# Opens what is folded, lists what there is, and writes down where the focus goes.
WATCH = """() => {
    for (const fold of document.querySelectorAll("details")) fold.open = true;
    const named = (one) => one.labels?.[0]?.innerText || one.innerText
        || one.getAttribute("aria-label") || one.name || one.outerHTML.slice(0, 80);
    const seen = (one) => (one.matches(".choice input, .tick input, label input")
        ? one.closest("label") : one);
    const things = () => [...document.querySelectorAll(
        "a[href], button, input, select, textarea, summary, [tabindex='0']")]
        .filter((one) => !one.disabled && one.type !== "hidden"
            && !one.closest("[inert], [aria-hidden=true]")
            && seen(one).checkVisibility({ checkVisibilityCSS: true }));
    const ringed = (one) => [one, one.nextElementSibling, one.closest("label")].some((part) => {
        const style = part && getComputedStyle(part);
        return style && style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= RING;
    });
    const inSight = (one) => {
        const box = seen(one).getBoundingClientRect();
        const [left, right] = [Math.max(box.left, 0), Math.min(box.right, innerWidth)];
        const [top, bottom] = [Math.max(box.top, 0), Math.min(box.bottom, innerHeight)];
        if (left >= right || top >= bottom) return false;
        return [0.1, 0.5, 0.9].some((share) => {
            const found = document.elementFromPoint(
                (left + right) / 2, top + (bottom - top) * share);
            return found && (seen(one).contains(found) || found.contains(one));
        });
    };
    const walk = { stops: [], round: false };
    document.addEventListener("focusin", ({ target }) => {
        if (walk.round || target === document.body) return;
        if (walk.stops.some((stop) => stop.one === target)) {
            walk.round = target === walk.stops[0].one;
            return;
        }
        walk.stops.push({ one: target, ringed: ringed(target), inSight: inSight(target) });
    });
    const groups = (one) => one.type === "radio" && one.name
        ? things().filter((other) => other.name === one.name && other.form === one.form) : [one];
    window.walked = () => ({
        round: walk.round,
        stops: walk.stops.length,
        missed: things().filter((one) => !groups(one).some((other) =>
            walk.stops.some((stop) => stop.one === other))).map(named),
        bare: walk.stops.filter((stop) => !stop.ringed).map((stop) => named(stop.one)),
        covered: walk.stops.filter((stop) => !stop.inSight).map((stop) => named(stop.one)),
    });
    window.comeRound = () => walk.round;
    return things().length;
}""".replace("RING", str(RING))


def shown_to(role: str) -> list[Address]:
    """List the pages that a role is shown and nobody before it in WALKERS was."""
    earlier = {page.name for other in WALKERS[: WALKERS.index(role)] for page in pages_of(other)}
    return [page for page in pages_of(role) if page.name not in earlier]


def walk_through(page: Page) -> dict[str, Any]:
    """Press Tab until the focus comes round to where it began; say what was met."""
    things = page.evaluate(WATCH)
    for _ in range(2 + things // 5 * PARTS_OF_A_DATE):
        for _ in range(5):
            page.keyboard.press("Tab")
        if page.evaluate("comeRound()"):
            break
    found: dict[str, Any] = page.evaluate("walked()")
    return found


def enter(page: Page, cookies: SimpleCookie, url: str) -> None:
    """Let a browser be whose cookies these are."""
    page.context.add_cookies(
        [{"name": name, "value": morsel.value, "url": url} for name, morsel in cookies.items()]
    )


@pytest.mark.parametrize("role", WALKERS)
def test_tab_reaches_everything_is_seen_and_comes_round(
    role, laptop: Page, phone: Page, live_server, figures
):
    page, world = laptop if role == "owner" else phone, a_world()
    enter(page, world.cookies[role], live_server.url)
    wrong: dict[str, Any] = {}
    stops = 0
    for address in shown_to(role):
        page.goto(live_server.url + address.path(world.objects))
        page.wait_for_selector(READY.get(address.name, "body"), state="attached")
        met = walk_through(page)
        stops += met["stops"]
        if not met["round"] or met["missed"] or met["bare"] or met["covered"]:
            wrong[address.name] = met

    figures.append(f"by keyboard, {role}: {len(shown_to(role))} pages, {stops} stops")
    assert wrong == {}, json.dumps(wrong, indent=1)


def test_the_walk_sees_what_no_key_reaches_what_has_no_ring_and_a_trap(live_server, laptop: Page):
    page = laptop
    page.goto(f"{live_server.url}/sign-in")
    page.evaluate(
        """() => {
            document.querySelector("[name=login]").tabIndex = -1;
            const sheet = new CSSStyleSheet();
            sheet.replaceSync("[name=password]:focus-visible { outline: none }");
            document.adoptedStyleSheets = [sheet];
        }"""
    )
    met = walk_through(page)
    assert met["missed"] == ["E-mail"]
    assert met["bare"] == ["Password"]
    assert met["round"]

    page.goto(f"{live_server.url}/sign-in")
    page.evaluate(
        """() => document.querySelector("[name=login]").addEventListener("keydown",
            (event) => event.preventDefault())"""
    )
    assert not walk_through(page)["round"]


def test_tab_reaches_every_question_of_a_day_that_is_not_filed_yet(live_server, phone: Page):
    nor = makers.a_student(makers.a_studio())
    makers.a_block(nor)
    cookies = makers.a_phone(makers.a_grant(nor)).cookies
    enter(phone, cookies, live_server.url)
    phone.goto(f"{live_server.url}/practice/{nor.public_id}/check-in")
    expect(phone.locator("form[data-ready]")).to_be_visible()

    met = walk_through(phone)

    assert met["stops"] > 20
    assert (met["round"], met["missed"], met["bare"], met["covered"]) == (True, [], [], [])


def test_all_pages_have_somebody_who_walks_through_them():
    walked = {page.name for role in WALKERS for page in shown_to(role)}
    pages = {
        name for (name, method), row in table().items() if method == "GET" and 200 in row.values()
    }

    assert pages - NO_PAGES - walked == set()
