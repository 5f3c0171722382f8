"""Notes as a screen reader says them in the session, in every way to call notes.

A sharp sign may be passed over in silence by a screen reader, so no name depends on it. "Fis" and
"fis" are the rows "deutsch" and "nederlands" of "Note names in other languages" in the GNU LilyPond
Notation Reference 2.25; "fa diesis", "fa dièse" and "fa sostenido" are what music21 10.5 says.
"""

import re

import pytest
from playwright.sync_api import Page, expect

from routines.engine.notes import Naming, display
from routines.words import spoken_from

from .conftest import render
from .playing import press, word
from .session_maker import a_session

LOW_F_SHARP = {
    Naming.LETTERS: "low F sharp",
    Naming.GERMAN: "low Fis",
    Naming.DUTCH: "low fis",
    Naming.ITALIAN: "low fa diesis",
    Naming.FRENCH: "low fa dièse",
    Naming.SPANISH: "low fa sostenido",
}
HEARD = """window.said = [];
    document.addEventListener("DOMContentLoaded", () => {
        const part = document.querySelector("[data-say]");
        const note = () => window.said.push(part.textContent);
        new MutationObserver(note).observe(part, { childList: true });
    });"""


def test_every_way_to_call_notes_is_here():
    assert set(LOW_F_SHARP) == set(Naming)


@pytest.fixture
def open_named(page: Page, site):
    """Open a session in which notes are called in one of the ways."""

    def opened(naming: Naming, **kind) -> Page:
        session = a_session(**kind)
        for step in session["steps"]:
            step["label"] = display(step["written"], naming)
            step["spoken"] = spoken_from(step["written"], session["start_note"], naming)
        site.pages["/session"] = render(session)
        page.add_init_script(HEARD)
        page.goto(f"{site.address}/session")
        return page

    return opened


@pytest.mark.parametrize("naming", Naming)
def test_the_session_says_the_note_in_words_and_its_counts(open_named, naming):
    kind = {"notes": [(54, "down")], "hold": 4, "rest": 8, "tempo": 240}
    page = open_named(naming, **kind, top_is_open=False)

    press(page, "Start")
    word(page, "Done.")

    name = LOW_F_SHARP[naming][0].upper() + LOW_F_SHARP[naming][1:]
    assert page.evaluate("() => window.said")[-1] == (
        f"Hold. {name}. Hold 4, the last note. Medium loud."
    )


@pytest.mark.parametrize("naming", Naming)
def test_every_button_and_line_with_a_note_says_it_in_words(open_named, naming):
    said = LOW_F_SHARP[naming]
    page = open_named(naming, notes=[(54, "up"), (54, "up")], hold=4, rest=32, tempo=120)

    press(page, "Start")
    word(page, "Hold")
    expect(page.locator(".player-note")).to_match_aria_snapshot(f'- paragraph: "{said}"')
    expect(page.locator(".player-note")).to_match_aria_snapshot(
        f'- paragraph: "Next note up: {said}"'
    )
    word(page, "Rest")
    for words in ("Last good note: ", "Next note up: "):
        expect(page.get_by_role("button", name=words + said, exact=True)).to_be_visible()
    press(page, "Pause")
    for words in ("Carry on: ", "Again from this note: ", "Last good note: "):
        expect(page.get_by_role("button", name=words + said, exact=True)).to_be_visible()
    press(page, "Last good note")
    expect(page.get_by_role("status").filter(has_text="Last good note")).to_match_aria_snapshot(
        f'- status: "1 note, 2 s. Last good note: {said}."'
    )


def test_no_sign_is_left_for_a_screen_reader(open_named):
    page = open_named(Naming.LETTERS, notes=[(66, "up"), (66, "up")], hold=8, rest=32, tempo=120)

    press(page, "Start")
    word(page, "Hold")

    assert not re.search("[♯♭]", page.locator("main").aria_snapshot())
    # The eye still has it.
    expect(page.locator("[data-note]")).to_have_text("F♯")
