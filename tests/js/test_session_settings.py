"""What a student chooses in the folded panel, and what a tap in the rest says."""

import pytest
from playwright.sync_api import Page, expect

from .playing import prefer, press, result, word

WALK = [(67, "down"), (54, "down"), (67, "up"), (78, "up")]


def test_a_phone_keeps_what_was_chosen(open_session, page: Page):
    open_session()
    page.get_by_text("Settings").click()
    for name in ("Brush", "Loud", "Stand", "Concert", "Show the beat", "Ask in the rest"):
        page.get_by_label(name).check()

    page.reload()
    page.get_by_text("Settings").click()

    for name in ("Brush", "Loud", "Stand", "Concert", "Show the beat", "Ask in the rest"):
        expect(page.get_by_label(name)).to_be_checked()
    expect(page.get_by_label("Buzz the beat")).not_to_be_checked()


@pytest.mark.parametrize("kept", ['{"click": "gong", "size": 7, "flash": "yes"}', "[1", "null"])
def test_what_cannot_be_read_is_as_a_phone_begins(open_session, page: Page, kept):
    page.add_init_script(f"localStorage.setItem('filar.settings', '{kept}');")
    open_session()

    page.get_by_text("Settings").click()

    for name in ("Tick", "Soft", "Auto", "Written"):
        expect(page.get_by_label(name)).to_be_checked()
    expect(page.get_by_label("Show the beat")).not_to_be_checked()


def test_a_phone_without_storage_plays_all_the_same(open_session, page: Page):
    page.add_init_script("""Object.defineProperty(window, "localStorage", {
        get: () => { throw new Error("refused"); } });""")
    open_session(notes=[(67, "down")], hold=2, rest=0, tempo=240, top_is_open=False)
    page.get_by_text("Settings").click()
    page.get_by_label("Knock").check()
    page.get_by_text("Settings").click()

    press(page, "Start")

    word(page, "Done.")


def test_concert_pitch_is_named_in_the_place_of_the_written_one(open_session, page: Page):
    prefer(page, pitch="concert")
    open_session(notes=WALK[:2], hold=8, rest=8, tempo=240, top_is_open=False)

    # Written G sounds F on an instrument in B flat.
    expect(page.locator("[data-note]")).to_have_text("F")
    expect(page.locator("[data-tag]")).to_have_text("First note, concert pitch")
    page.get_by_text("Settings").click()
    page.get_by_label("Written").check()
    expect(page.locator("[data-note]")).to_have_text("G")
    page.get_by_label("Concert").check()
    page.get_by_text("Settings").click()
    press(page, "Start")
    word(page, "Hold")

    expect(page.locator("[data-next]")).to_have_text("Next note: Econcert E 3")
    expect(page.locator("[data-say]")).to_contain_text("Hold. Concert F 4.")
    expect(page.locator(".player-staff")).to_be_hidden()


def test_an_instrument_that_sounds_as_written_is_not_asked(open_session, page: Page, site):
    prefer(page, pitch="concert")
    open_session()
    site.pages["/session"] = site.pages["/session"].replace(
        '"has_concert": true', '"has_concert": false'
    )
    page.reload()

    page.get_by_text("Settings").click()

    expect(page.get_by_label("Tick")).to_be_visible()
    expect(page.get_by_label("Concert")).to_be_hidden()
    expect(page.locator("[data-note]")).to_have_text("G")


@pytest.mark.parametrize(
    ("size", "screen", "shown"),
    [("auto", (390, 844), "hand"), ("auto", (600, 960), "stand"), ("auto", (1024, 599), "hand"),
     ("stand", (390, 844), "stand"), ("hand", (1024, 768), "hand")],
)  # fmt: skip
def test_the_size_follows_the_screen_unless_it_was_chosen(open_session, page, size, screen, shown):
    prefer(page, size=size)
    open_session(*screen)

    expect(page.locator("[data-player]")).to_have_attribute("data-size", shown)


def test_taps_in_the_rest_are_handed_on_by_note_and_by_register(open_session, page: Page):
    prefer(page, judge=True)
    # Long enough that a look once a second sees each hold and each rest.
    open_session(notes=WALK, hold=12, rest=24, tempo=240, top_is_open=False)

    press(page, "Start")
    taps = (("G", "That one was good"), ("low F sharp", "Not yet"), ("G", "Not yet"))
    for asked, tap in taps:
        word(page, "Rest")
        expect(page.get_by_role("group", name=f"How was {asked}?", exact=True)).to_be_visible()
        press(page, tap)
        expect(page.get_by_role("button", name=tap)).to_have_attribute("aria-pressed", "true")
        word(page, "Hold")
        expect(page.locator("[data-judge]")).to_be_hidden()
    word(page, "Done.")

    # The start note came twice and was not yet good once; F sharp 3 lies thirteen half steps below.
    told = result(page)
    assert told["notes"] == {"67": "not yet", "54": "not yet"}
    assert told["trouble"] == ["low", "middle"]


def test_a_tap_can_be_changed_and_is_never_needed(open_session, page: Page):
    prefer(page, judge=True)
    open_session(notes=WALK[:2], hold=2, rest=16, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Rest")
    press(page, "Not yet")
    press(page, "That one was good")
    expect(page.get_by_role("button", name="Not yet")).to_have_attribute("aria-pressed", "false")
    word(page, "Done.")

    assert result(page)["notes"] == {"67": "good"}


def test_without_the_switch_no_rest_asks(open_session, page: Page):
    open_session(notes=WALK[:2], hold=2, rest=8, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Rest")

    expect(page.locator("[data-judge]")).to_be_hidden()


@pytest.mark.parametrize(
    ("notes", "registers"),
    [({"60": "not yet"}, ["low"]), ({"61": "not yet"}, ["middle"]), ({"73": "not yet"}, ["middle"]),
     ({"74": "not yet"}, ["high"]), ({"60": "good", "74": "good"}, []), ({}, [])],
)  # fmt: skip
def test_a_register_is_more_than_six_half_steps_from_the_start_note(ask, notes, registers):
    # The start note is G4, 67: low is under 61, high over 73.
    assert ask("return result.troubleFrom(values[0], 67);", notes) == registers


@pytest.mark.parametrize(
    ("marks", "highest"),
    [
        ({}, 69),
        ({"2": "good"}, 69),
        ({"2": "not yet"}, 67),
        ({"1": "not yet", "2": "not yet"}, None),
    ],
)
def test_a_note_that_was_not_yet_good_is_no_last_good_note(ask, marks, highest):
    steps = [
        {"index": at, "part": part, "written": written, "start": at * 4.0, "hold": 2.0}
        for at, (part, written) in enumerate([("down", 65), ("up", 67), ("up", 69)])
    ]
    session = {"top_is_open": True, "steps": steps}
    reached = {"played": [{"from": 0.0, "to": 12.0}], "marks": marks}

    found = ask(
        "return course.lastNoteUp(values[0], values[1])?.written ?? null;", session, reached
    )

    assert found == highest
