"""Keys, a screen reader, less motion, no sound, no JavaScript: the session is there for all."""

import re

import pytest
from playwright.sync_api import expect

from .playing import SHORT, THREE_NOTES, press, word


def test_the_whole_session_needs_only_tab_and_enter_or_space(open_session, page):
    open_session(notes=THREE_NOTES, hold=4, rest=4, tempo=240, top_is_open=False)

    page.get_by_role("button", name="Start").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Pause")).to_be_focused()
    page.keyboard.press("Space")
    expect(page.get_by_role("button", name="Carry on")).to_be_focused()
    page.keyboard.press("Enter")

    word(page, "Done.")
    expect(page.get_by_role("heading", name="Done.")).to_be_focused()


def test_settings_taps_and_the_top_need_only_the_keyboard_too(open_session, page):
    open_session(notes=[(67, "up"), (68, "up")], hold=2, rest=80, tempo=240)

    page.get_by_text("Settings").focus()
    page.keyboard.press("Enter")
    for _ in range(8):
        page.keyboard.press("Tab")
        if page.get_by_label("Ask in the rest").evaluate("(box) => box.matches(':focus')"):
            break
    page.keyboard.press("Space")
    page.get_by_text("Settings").press("Enter")
    press(page, "Start")
    word(page, "Rest")
    page.get_by_role("button", name="Pause").focus()
    good = page.get_by_role("button", name="That one was good")
    while not good.evaluate("(button) => button.matches(':focus')"):
        page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    expect(good).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    expect(page.get_by_role("button", name="Last good note: G")).to_be_focused()
    page.keyboard.press("Space")
    word(page, "Done.")


def test_a_choice_that_goes_while_it_holds_the_keyboard_leaves_it_to_pause(open_session, page):
    open_session(notes=THREE_NOTES, hold=4, rest=4, tempo=120)
    page.get_by_text("Settings").click()
    page.get_by_label("Ask in the rest").check()
    page.get_by_text("Settings").click()
    press(page, "Start")
    word(page, "Rest")
    page.get_by_role("button", name="That one was good").focus()

    word(page, "Hold")

    expect(page.get_by_role("button", name="That one was good")).to_be_hidden()
    expect(page.get_by_role("button", name="Pause")).to_be_focused()


def test_letters_and_a_space_outside_a_button_do_nothing(open_session, page):
    open_session(notes=THREE_NOTES, hold=32, rest=8, tempo=240)

    press(page, "Start")
    word(page, "Hold")
    page.evaluate("() => document.activeElement.blur()")
    for key in ("p", "s", "Space", "Escape", "ArrowRight"):
        page.keyboard.press(key)

    word(page, "Hold")


def test_the_live_region_speaks_the_note_and_not_the_counts(open_session, page):
    page.add_init_script("""window.said = [];
        document.addEventListener("DOMContentLoaded", () => {
            const part = document.querySelector("[data-say]");
            const note = () => window.said.push(part.textContent);
            new MutationObserver(note).observe(part, { childList: true });
        });""")
    open_session(notes=[(67, "down"), (54, "down")], hold=4, rest=4, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Done.")

    assert page.evaluate("() => window.said") == [
        "Get ready. G. Hold 4, rest 4. Medium loud.",
        "Hold. G. Hold 4, rest 4. Medium loud.",
        "Rest, horn off the face. Next: Low F sharp. Hold 4, the last note. Medium loud.",
        "Hold. Low F sharp. Hold 4, the last note. Medium loud.",
    ]


def test_a_phone_that_may_sleep_is_told_so(open_session, page):
    page.add_init_script("delete Navigator.prototype.wakeLock;")
    open_session(notes=THREE_NOTES, hold=32, rest=8, tempo=240)

    press(page, "Start")

    expect(page.get_by_text("Your phone may sleep. Turn off auto-lock.")).to_be_visible()


def test_a_phone_without_sound_plays_on_and_offers_the_click(open_session, page):
    page.add_init_script("delete window.AudioContext;")
    open_session(notes=THREE_NOTES, **{**SHORT, "hold": 8})

    press(page, "Start")
    expect(page.get_by_role("button", name="Tap to turn on the click.")).to_be_visible()

    word(page, "Done.")


@pytest.mark.parametrize(
    ("kind", "length"),
    [
        ({}, "Up to 27 notes and 7 minutes. You choose the top."),
        ({"top_is_open": False}, "27 notes. About 7 minutes."),
        ({"notes": THREE_NOTES, **SHORT}, "3 notes. About 1 minute."),
    ],
)
def test_before_the_start_the_student_reads_what_will_happen(open_session, page, kind, length):
    open_session(**kind)

    expect(page.locator("[data-length]")).to_have_text(length)
    expect(page.get_by_text("Play only while it feels comfortable.")).to_be_visible()
    rest = kind.get("rest", 8)
    expect(
        page.get_by_text(f"Hold {kind.get('hold', 8)} · Rest {rest}", exact=True)
    ).to_be_visible()


def test_under_reduced_motion_the_bar_moves_only_with_the_counts(open_session, page):
    page.emulate_media(reduced_motion="reduce")
    page.add_init_script("""window.widths = new Set();
        document.addEventListener("DOMContentLoaded", () => {
            const part = document.querySelector("[data-fill]");
            const note = () => window.widths.add(part.getAttribute("width"));
            new MutationObserver(note).observe(part, { attributes: true });
        });""")
    open_session(notes=THREE_NOTES, hold=4, rest=4, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Done.")

    assert page.evaluate("() => [...window.widths].every((width) => width.endsWith('.000'))")


def test_without_javascript_the_page_says_what_to_play(new_context, open_session, site):
    open_session()
    plain = new_context(java_script_enabled=False).new_page()

    plain.goto(f"{site.address}/session")

    expect(plain.get_by_role("heading", name="Held notes for Nor")).to_be_visible()
    expect(plain.get_by_role("listitem")).to_have_count(27)
    assert plain.get_by_role("link", name="Check in").get_attribute("href") == "/check-in"
    expect(plain.get_by_role("button", name="Start")).to_be_hidden()


def test_the_page_never_writes_the_counts_like_a_time_signature(open_session, page):
    # Musicians read "8/8" as a time signature: common practice, no published source.
    open_session()

    assert not re.search(r"\b\d+\s*/\s*\d+\b", page.locator("main").inner_text())
