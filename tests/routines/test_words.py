"""What the engine says in codes, said in words."""

import re

import pytest

from routines import words
from routines.engine import dynamics, instruments, plan
from routines.engine.catalogue import Sentence
from routines.engine.instruments import Hint
from routines.engine.roster import Letters
from tests import brackets, tree


@pytest.mark.parametrize(
    ("text", "day", "said"),
    [
        ("mf", 1, "Medium loud"),
        ("by-day:f,p", 1, "Today: loud"),
        ("by-day:f,p", 2, "Today: soft"),
        ("by-note:f,p", 2, "Note by note: loud, then soft"),
        ("inside:swell", 1, "In each note: soft, grow louder, soft again"),
    ],
)
def test_dynamics_are_said_in_plain_words(text, day, said):
    assert words.dynamics_on(dynamics.parse(text), day) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("mf", "medium loud"),
        ("by-day:f,p", "day by day: loud, then soft"),
        ("by-note:f,p", "note by note: loud, then soft"),
        ("inside:fade", "in each note: loud, then softer to the end"),
    ],
)
def test_the_dynamics_of_a_whole_block_stand_within_a_sentence(text, said):
    assert words.dynamics_within(dynamics.parse(text)) == said


def test_every_word_that_an_engine_hands_on_is_marked_for_the_catalogue():
    sources = "".join(path.read_text() for path in tree.files("routines/engine", suffix=".py"))
    marked = set(re.findall(r'gettext_noop\(\s*"([^"]+)"', sources))

    handed_on = {
        *(row.name for row in instruments.INSTRUMENTS),
        *(level.words for level in dynamics.Level),
        *(shape.words for shape in dynamics.Shape),
        *(hint.value for hint in Hint if hint),
        *(one.words for one in Letters if not one.words.startswith("Unicode")),
    }
    assert handed_on - marked == set()


def test_a_refusal_is_said_in_the_language_of_the_page_with_its_figures(monkeypatch):
    with pytest.raises(plan.PlanError) as refused:
        plan.within("hold", 99, plan.HOLD_LIMITS)
    brackets.speak(monkeypatch)

    assert str(refused.value) == "Hold 99 counts: choose 2 to 32."
    assert words.in_words(refused.value) == "⟦Hold 99 counts: choose 2 to 32.⟧"


def test_a_word_inside_a_refusal_is_translated_too(monkeypatch):
    brackets.speak(monkeypatch)
    said = Sentence("This is not %(letters)s text.", letters=Sentence("Western European"))

    assert words.in_words(said) == "⟦This is not ⟦Western European⟧ text.⟧"
