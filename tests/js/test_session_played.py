"""A session played in a real Chromium, and what is handed to the check-in at its end."""

import re

import pytest
from playwright.sync_api import expect

from .playing import SHORT, THREE_NOTES, press, result, word
from .session_maker import a_session

SPY = """window.clicks = [];
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (at) {
        window.clicks.push(at);
        return start.call(this, at);
    };"""
HIDE = """(state) => {
    Object.defineProperty(document, "visibilityState", { configurable: true, get: () => state });
    document.dispatchEvent(new Event("visibilitychange"));
}"""


def test_a_short_session_played_to_its_end_arrives_at_the_check_in(open_session, page):
    open_session(notes=THREE_NOTES, **SHORT)

    press(page, "Start")
    expect(page.locator("[data-message]")).to_have_text("3 notes, 2 s.")
    page.wait_for_url("**/check-in")

    told = result(page)
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT[\d:.]+Z", told.pop("finished_at"))
    assert told == {
        "student": "s-7Qd2", "block": "b-41xk", "version": 12, "day": "2026-03-03",
        "finished": 1, "completed": 1, "seconds": 1.5, "notes_played": 3, "notes_planned": 3,
        "high_note": None, "stopped_because": "", "notes": {}, "start_note": 67, "trouble": [],
    }  # fmt: skip


def test_the_real_audio_clock_gets_every_click_evenly(open_session, page):
    page.add_init_script(SPY)
    open_session(notes=THREE_NOTES, **SHORT)

    press(page, "Start")
    word(page, "Done.")

    # Four counts in, three notes of two counts, and the release: 11 clicks a quarter second apart.
    clicks = page.evaluate("() => window.clicks")
    assert [at - clicks[0] for at in clicks] == pytest.approx([n / 4 for n in range(11)], abs=1e-3)


def test_nothing_is_asked_of_the_server_while_playing(open_session, page, site):
    open_session(notes=THREE_NOTES, **SHORT)
    page.wait_for_load_state("networkidle")
    before = len(site.asked)

    press(page, "Start")
    word(page, "Done.")

    # The browser itself fetches the page's icon when it likes.
    assert [asked for asked in site.asked[before:] if "/icons/" not in asked] == []


def test_a_loaded_session_is_played_without_any_signal(open_session, page, context, troubles):
    troubles.allow("/icons/")
    open_session(notes=THREE_NOTES, **SHORT)
    page.wait_for_load_state("networkidle")
    context.set_offline(True)

    press(page, "Start")

    word(page, "Done.")


def test_stop_here_tells_what_was_played_until_then(open_session, page):
    open_session(notes=THREE_NOTES, hold=2, rest=8, tempo=120, top_is_open=False)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Pause")
    press(page, "Stop here")
    word(page, "Stopped here.")

    told = result(page)
    assert (told["notes_played"], told["completed"], told["finished"]) == (1, 0.333, 0)
    # The rest after the last release does not count: one hold of two counts at 120.
    assert told["seconds"] == 1.0


def test_carry_on_after_a_pause_reports_the_session_as_if_there_had_been_none(open_session, page):
    open_session(notes=THREE_NOTES[:2], hold=2, rest=6, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Pause")
    word(page, "Paused")
    press(page, "Carry on")
    word(page, "Done.")

    # Two holds of 2 and one rest of 6 counts at 240: 2.5 seconds.
    assert result(page)["seconds"] == pytest.approx(2.5, abs=0.3)
    assert result(page)["notes_played"] == 2


def test_a_hold_that_was_broken_off_is_played_again_from_its_attack(open_session, page):
    open_session(notes=THREE_NOTES, hold=32, rest=2, tempo=120, top_is_open=False)

    press(page, "Start")
    word(page, "Hold")
    expect(page.locator("[data-count]")).to_have_text(re.compile(r"^([6-9]|\d\d)$"))
    press(page, "Pause")
    # Carrying on begins the same note, so no second button offers that.
    expect(page.get_by_role("button", name="Again from this note")).to_be_hidden()
    press(page, "Carry on: G")

    word(page, "Get ready")
    expect(page.locator("[data-place]")).to_have_text("1 of 3")
    word(page, "Hold")
    expect(page.locator("[data-count]")).to_have_text(re.compile("^[1-5]$"))


def test_again_from_this_note_plays_the_note_before_the_rest_and_rests_first(open_session, page):
    open_session(notes=THREE_NOTES, hold=2, rest=12, tempo=120, top_is_open=False)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Pause")
    expect(page.get_by_role("button", name="Carry on: F sharp")).to_be_visible()
    press(page, "Again from this note: G")

    word(page, "Rest")
    expect(page.locator("[data-note]")).to_have_text("G")
    word(page, "Hold")
    expect(page.locator("[data-place]")).to_have_text("1 of 3")


def test_the_last_good_note_ends_an_open_walk_and_says_why(open_session, page):
    open_session(notes=[(67, "up"), (68, "up"), (69, "up")], hold=2, rest=8, tempo=120)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Last good note: G")
    word(page, "Done.")
    expect(page.locator("[data-message]")).to_have_text("1 note, 1 s. Last good note: G.")
    told = result(page)
    press(page, "I was tired")
    page.wait_for_url("**/check-in")

    assert (told["high_note"], told["completed"], told["finished"]) == (67, 1, 1)
    assert (told["notes_played"], told["stopped_because"]) == (1, "")
    assert result(page)["stopped_because"] == "tired"
    assert result(page)["high_note"] == 67


def test_next_note_up_goes_on_after_the_whole_rest(open_session, page):
    open_session(notes=[(67, "up"), (68, "up")], hold=2, rest=8, tempo=240)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Next note up: A flat")
    expect(page.get_by_role("button", name="Next note up")).to_be_hidden()
    expect(page.locator("[data-phase=rest]")).to_be_attached()
    word(page, "Done.")

    told = result(page)
    assert (told["notes"], told["notes_played"], told["high_note"]) == ({"67": "good"}, 2, 68)
    # Two holds of 2 and one rest of 8 counts at 240: the rest was not cut.
    assert told["seconds"] == 3.0


def test_a_pause_on_the_way_up_offers_the_last_good_note_too(open_session, page):
    open_session(notes=[(67, "up"), (68, "up")], hold=2, rest=8, tempo=120)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Pause")

    for name in ("Carry on: A flat", "Again from this note: G", "Last good note: G", "Stop here"):
        expect(page.get_by_role("button", name=name)).to_be_visible()


def test_on_the_way_down_no_last_good_note_is_offered(open_session, page):
    open_session(notes=THREE_NOTES, hold=2, rest=8, tempo=120)

    press(page, "Start")
    word(page, "Rest")

    expect(page.locator("[data-do=top]")).to_be_hidden()


def test_a_hidden_page_pauses_at_the_end_of_the_hold(open_session, page):
    open_session(notes=THREE_NOTES, hold=4, rest=4, tempo=120, top_is_open=False)

    press(page, "Start")
    word(page, "Hold")
    page.evaluate(HIDE, "hidden")
    word(page, "Paused")
    page.evaluate(HIDE, "visible")
    expect(page.locator("[data-message]")).to_have_text("You left this page. Your place is kept.")
    press(page, "Stop here")
    word(page, "Stopped here.")

    # Exactly the one hold of four counts at 120.
    assert (result(page)["notes_played"], result(page)["seconds"]) == (1, 2.0)


def test_a_fault_in_the_timer_keeps_the_note_and_does_not_start_again(open_session, page):
    open_session(notes=THREE_NOTES, hold=8, rest=8, tempo=120)

    press(page, "Start")
    word(page, "Hold")
    page.evaluate("() => document.querySelector('[data-count]').remove()")
    word(page, "Paused")

    expect(page.locator("[data-message]")).to_have_text("The timer stopped. Your place is kept.")
    expect(page.get_by_role("button", name="Carry on: G")).to_be_visible()


def test_the_order_of_notes_is_looked_up_and_never_worked_out(open_session, page):
    # An order no walk would give: the player plays it as written.
    session = a_session(notes=[(60, "down"), (72, "down"), (61, "down")])
    open_session(notes=[(60, "down"), (72, "down"), (61, "down")], hold=2, rest=2, tempo=240)

    press(page, "Start")
    seen: list[str] = []
    for step in session["steps"]:
        expect(page.locator("[data-note]")).to_have_text(step["label"])
        seen.append(step["label"])

    assert seen == ["C", "C", "C♯"]


def test_a_call_that_takes_the_sound_pauses_at_the_end_of_the_hold(open_session, page):
    page.add_init_script("""const open = window.AudioContext;
        window.AudioContext = class extends open {
            constructor(kind) { super(kind); window.sound = this; }
        };""")
    open_session(notes=THREE_NOTES, hold=4, rest=4, tempo=120, top_is_open=False)

    press(page, "Start")
    word(page, "Hold")
    page.evaluate("() => window.sound.suspend()")
    word(page, "Paused")
    press(page, "Stop here")

    # Exactly the one hold of four counts at 120, as a pause at its end is.
    assert (result(page)["notes_played"], result(page)["seconds"]) == (1, 2.0)


def test_a_tap_on_start_on_the_page_before_begins_without_a_second_one(open_session, page, site):
    open_session(notes=THREE_NOTES, hold=8, rest=8, tempo=120)
    site.pages["/begin"] = '<title>b</title><a href="/session#start">Start</a>'
    page.goto(f"{site.address}/begin")

    page.get_by_role("link", name="Start").click()

    word(page, "Get ready")
    word(page, "Hold")
    # The page loaded anew does not begin again: it asks.
    assert not page.url.endswith("#start")
    page.reload()
    word(page, "Carry on at note 1 of 3?")
