"""The session on its screens: nothing scrolls, sizes hold at a music stand, axe finds nothing.

Sizes: a capital of 164 px is read at 100 cm and 96 px on a phone in reach; targets of 48 px are
more than the 44 px of WCAG 2.2 success criterion 2.5.5.
"""

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

# Without sound the steady clock leads, and a test can put it on: half an hour passes in a moment.
LEAP = """delete window.AudioContext;
    window.leap = 0;
    const steady = performance.now.bind(performance);
    performance.now = () => steady() + window.leap * 1000;"""
OVERFLOW = """() => {
    const player = document.querySelector("[data-player]");
    const over = (part) =>
        part.scrollHeight > part.clientHeight || part.scrollWidth > part.clientWidth;
    const low = document.querySelector(".player-stage").getBoundingClientRect().bottom;
    const inside = [...document.querySelectorAll(".player-stage *")]
        .filter((part) => part.checkVisibility() && !part.closest("svg"))
        .every((part) => part.getBoundingClientRect().bottom <= low + 1);
    return { scrolls: over(player) || over(document.documentElement), inside };
}"""
SIZE = """(name) => parseFloat(getComputedStyle(document.querySelector(name)).fontSize)"""
CYCLE = 16
PHONES = [(360, 640), (390, 844), (844, 390)]
STANDS = [(600, 960), (768, 1024), (1024, 768), (1280, 800)]


@pytest.fixture
def at_second(open_session: Callable[..., Page], page: Page) -> Callable[..., Page]:
    """Start a session of 27 notes and leap to a second of it."""

    def leapt(second: float, **kind: Any) -> Page:
        page.add_init_script(LEAP)
        open_session(**kind)
        page.get_by_role("button", name="Start").click()
        expect(page.get_by_role("button", name="Tap to turn on the click")).to_be_visible()
        page.evaluate("(second) => { window.leap = second + 4; }", second)
        return page

    return leapt


def views(page: Page) -> Iterator[str]:
    """Go through every view of a started session, one after the other."""
    # A hold with a hint under the note, its rest, a breath, a hold and a rest on the way up.
    for name, second in (
        ("hold", 6 * CYCLE + 3), ("rest", 6 * CYCLE + 9), ("breathe", 6 * CYCLE + 14),
        ("up hold", 20 * CYCLE + 3), ("up rest", 20 * CYCLE + 9),
    ):  # fmt: skip
        page.evaluate("(second) => { window.leap = second + 4; }", second)
        phase = "hold" if "hold" in name else "rest"
        breathe = str(name == "breathe").lower()
        expect(page.locator(f"[data-phase={phase}][data-breathe={breathe}]")).to_be_attached()
        yield name
    page.get_by_role("button", name="Pause").click()
    yield "paused"
    page.get_by_role("button", name="Stop here").click()
    # The way on to the check-in waits, however long is looked at this.
    page.evaluate(
        "() => { for (let id = setTimeout(() => {}); id > 0; id -= 1) clearTimeout(id); }"
    )
    yield "ended"
    page.get_by_role("button", name="Something hurts").click()
    expect(page.locator("[data-message]")).to_contain_text("Rest today.")
    yield "hurt"


@pytest.mark.parametrize(("width", "height"), [*PHONES, *STANDS])
def test_nothing_scrolls_and_nothing_is_covered(at_second, width, height):
    page = at_second(0, width=width, height=height)

    found = {name: page.evaluate(OVERFLOW) for name in views(page)}

    assert found == {name: {"scrolls": False, "inside": True} for name in found}
    assert len(found) == 8


@pytest.mark.parametrize(("width", "height"), [(320, 568), *PHONES, *STANDS])
def test_before_the_start_nothing_scrolls_either(open_session, width, height):
    page = open_session(width=width, height=height)

    assert page.evaluate(OVERFLOW) == {"scrolls": False, "inside": True}


@pytest.mark.parametrize(
    ("size", "note", "count", "text"),
    [*[(size, 96, 66, 18) for size in PHONES], *[(size, 164, 164, 28) for size in STANDS]],
)
def test_the_letters_are_large_enough(at_second, size, note, count, text):
    page = at_second(3, width=size[0], height=size[1])

    expect(page.locator("[data-phase=hold]")).to_be_attached()
    assert page.evaluate(SIZE, ".player-name") >= note
    assert page.evaluate(SIZE, ".player-number") >= count
    for name in (".player-place", ".player-tool", ".player-next", ".player-of", ".player-hint"):
        assert page.evaluate(SIZE, name) >= text


@pytest.mark.parametrize("size", [*PHONES, *STANDS])
def test_every_button_is_large_enough_to_hit_without_looking(at_second, size):
    page = at_second(20 * CYCLE + 9, width=size[0], height=size[1])

    expect(page.locator("[data-do=top]")).to_be_visible()
    boxes = {
        part.get_attribute("data-do"): part.bounding_box()
        for part in page.locator("[data-player] button:visible").all()
    }
    assert set(boxes) == {"unmute", "top", "next-up", "pause", "hurt"}
    assert min(boxes[name]["height"] for name in ("pause", "top", "next-up")) >= 96
    assert all(min(box["width"], box["height"]) >= 48 for box in boxes.values())
    sizes = {page.evaluate(SIZE, f"[data-do={name}]") for name in ("pause", "hurt")}
    assert len(sizes) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(390, 844), (1280, 800)])
def test_axe_finds_nothing_in_any_view(at_second, scheme, size):
    page = at_second(0, width=size[0], height=size[1])
    page.emulate_media(color_scheme=scheme)

    found = {}
    for name in views(page):
        violations = Axe().run(page).response["violations"]
        found[name] = [(each["id"], each["nodes"][0]["html"]) for each in violations]

    assert found == {name: [] for name in found}, json.dumps(found, indent=1)


def test_axe_finds_nothing_before_the_start(open_session):
    assert Axe().run(open_session()).response["violations"] == []


def test_hold_rest_and_breath_differ_in_word_sign_and_colour(at_second):
    page = at_second(0)
    look = """() => {
        const signs = [...document.querySelectorAll("[data-sign]")];
        return [
            document.querySelector("[data-word]").textContent,
            signs.filter((sign) => getComputedStyle(sign).display !== "none")
                .map((sign) => sign.dataset.sign).join(),
            getComputedStyle(document.querySelector(".player-time")).backgroundColor,
        ];
    }"""

    seen = {name: page.evaluate(look) for name in views(page)}

    three = [seen["hold"], seen["rest"], seen["breathe"]]
    assert [word for word, _, _ in three] == ["Hold", "Rest", "Breathe in"]
    assert [sign for _, sign, _ in three] == ["hold", "rest", "breath"]
    assert len({colour for _, _, colour in three}) == 3


@pytest.mark.parametrize(("width", "height"), [*PHONES, *STANDS])
def test_the_notice_that_the_phone_may_sleep_fits_too(at_second, page, width, height):
    page.add_init_script("delete Navigator.prototype.wakeLock;")
    at_second(6 * CYCLE + 3, width=width, height=height)

    expect(page.get_by_text("Your phone may sleep.")).to_be_visible()
    assert page.evaluate(OVERFLOW) == {"scrolls": False, "inside": True}


def test_the_rest_shows_the_next_note_with_its_staff_early(at_second):
    page = at_second(9)

    expect(page.locator("[data-phase=rest]")).to_be_attached()
    expect(page.locator("[data-tag]")).to_have_text("Next note")
    expect(page.locator("[data-note]")).to_have_text("F♯")
    expect(page.locator("[data-written]:visible")).to_have_attribute("data-written", "66")


def test_text_spaced_as_widely_as_wcag_asks_loses_nothing(at_second, page):
    # WCAG 2.2 success criterion 1.4.12: line 1.5, letters 0.12, words 0.16 times the size.
    at_second(3, width=390, height=844)
    page.evaluate("""() => {
        const sheet = new CSSStyleSheet();
        sheet.replaceSync(
            "* { line-height: 1.5 !important; letter-spacing: 0.12em !important;" +
            " word-spacing: 0.16em !important; }");
        document.adoptedStyleSheets = [sheet];
    }""")

    assert page.evaluate(OVERFLOW)["inside"] is True
    expect(page.get_by_role("button", name="Something hurts")).to_be_visible()


BIG_TEXT = "() => { document.documentElement.style.fontSize = '200%'; }"
# What is cut off: text that sticks out of the page to a side, or that a box hides.
CUT_OFF = """() => [...document.querySelectorAll("[data-player] *, [data-player]")]
    .filter((part) => part.checkVisibility() && !part.closest("svg, .unseen"))
    .filter((part) => {
        const box = part.getBoundingClientRect();
        const hides = getComputedStyle(part).overflowX !== "visible"
            && part.scrollWidth > part.clientWidth + 1;
        return box.left < -1 || box.right > document.documentElement.clientWidth + 1 || hides;
    })
    .map((part) => `${part.className || part.tagName}: ${part.textContent.trim().slice(0, 30)}`)"""
COVERED = """() => {
    const parts = [...document.querySelectorAll("[data-player] :is(button, a, summary)")]
        .filter((part) => part.checkVisibility());
    return parts.filter((part) => {
        part.scrollIntoView({ block: "center" });
        const box = part.getBoundingClientRect();
        const there = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        return !part.contains(there);
    }).map((part) => part.textContent.trim());
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [(320, 568), (360, 640), (390, 844)])
def test_text_of_twice_the_size_is_read_and_tapped_in_every_view(at_second, scheme, size):
    page = at_second(0, width=size[0], height=size[1])
    page.emulate_media(color_scheme=scheme)
    page.evaluate(BIG_TEXT)

    found = {}
    for name in views(page):
        violations = Axe().run(page).response["violations"]
        found[name] = [
            *((each["id"], each["nodes"][0]["html"]) for each in violations),
            *page.evaluate(CUT_OFF),
            *page.evaluate(COVERED),
        ]

    assert found == {name: [] for name in found}, json.dumps(found, indent=1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390])
def test_before_the_start_too_text_of_twice_the_size_is_read(open_session, page, scheme, width):
    page.emulate_media(color_scheme=scheme)
    open_session(width=width, height=640)
    page.evaluate(BIG_TEXT)

    for _ in range(2):
        assert Axe().run(page).response["violations"] == []
        assert page.evaluate(CUT_OFF) == []
        assert page.evaluate(COVERED) == []
        page.get_by_text("Settings").click()


@pytest.mark.parametrize("size", [(320, 568), *PHONES])
def test_a_rest_that_asks_fits_and_its_halves_are_easy_to_hit(at_second, page, size):
    page.add_init_script("""localStorage.setItem("filar.settings", '{"judge": true}');""")
    at_second(20 * CYCLE + 9, width=size[0], height=size[1])

    expect(page.get_by_role("button", name="Not yet")).to_be_visible()
    if size != (320, 568):
        assert page.evaluate(OVERFLOW) == {"scrolls": False, "inside": True}
    for name in ("That one was good", "Not yet", "Pause"):
        box = page.get_by_role("button", name=name).bounding_box()
        assert box is not None
        assert box["height"] >= 96, name
    assert Axe().run(page).response["violations"] == []
