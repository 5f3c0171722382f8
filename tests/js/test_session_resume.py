"""A page loaded anew asks whether to carry on, and begins nothing by itself."""

import json
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from .playing import THREE_NOTES, press, result, word

KIND: dict[str, Any] = {"notes": THREE_NOTES, "hold": 2, "rest": 12, "tempo": 240}
SHELF = "filar.place.s-7Qd2"


@pytest.fixture
def left_in_the_rest(open_session, page: Page) -> Page:
    """A session left after its first note, and its page loaded anew."""
    open_session(**KIND, top_is_open=False)
    press(page, "Start")
    word(page, "Rest")
    page.reload()
    return page


def test_it_carries_on_at_the_note_reached_after_a_whole_rest(left_in_the_rest):
    page = left_in_the_rest
    word(page, "Carry on at note 2 of 3?")
    expect(page.locator("[data-note]")).to_have_text("F♯")
    press(page, "Carry on")

    word(page, "Rest")
    expect(page.locator("[data-of]")).to_have_text("of 12")
    word(page, "Done.")

    # What was played before counts: three holds of 2 and two rests of 12 counts at 240.
    assert (result(page)["notes_played"], result(page)["seconds"]) == (3, 7.5)


def test_it_can_begin_at_the_first_note_or_stop_there(left_in_the_rest):
    page = left_in_the_rest
    press(page, "From the first note")
    word(page, "Rest")
    expect(page.locator("[data-place]")).to_have_text("1 of 3")
    page.reload()
    # Nothing was begun anew, so nothing is left to carry on with.
    word(page, "Ready, Nor?")


def test_stopping_there_goes_to_the_check_in_with_what_was_played(left_in_the_rest):
    page = left_in_the_rest
    press(page, "Stop here")
    page.wait_for_url("**/check-in")

    told = result(page)
    assert (told["notes_played"], told["seconds"], told["completed"]) == (1, 0.5, 0.333)


@pytest.mark.parametrize(
    ("name", "value"),
    [("block", "b-other"), ("version", 13), ("day", "2026-03-02"), ("course", {"next": 99}),
     ("course", None), ("course", {"next": 1, "again": 0, "played": [{"from": "x", "to": 1}]})],
)  # fmt: skip
def test_a_place_of_another_block_version_or_day_or_a_broken_one_is_dropped(
    open_session, page, name, value
):
    open_session(**KIND, top_is_open=False)
    press(page, "Start")
    word(page, "Rest")
    kept = json.loads(page.evaluate("(name) => localStorage.getItem(name)", SHELF))
    page.add_init_script(
        f"localStorage.setItem('{SHELF}', {json.dumps(json.dumps({**kept, name: value}))});"
    )
    page.reload()

    word(page, "Ready, Nor?")
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    assert page.evaluate("(name) => localStorage.getItem(name)", SHELF) is None


def test_a_session_played_to_its_end_leaves_no_place(open_session, page):
    open_session(notes=THREE_NOTES, hold=2, rest=0, tempo=240, top_is_open=False)
    press(page, "Start")
    word(page, "Done.")
    page.reload()

    word(page, "Ready, Nor?")
