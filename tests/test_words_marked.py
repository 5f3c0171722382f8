"""Words go through gettext: every template is marked."""

from datetime import timedelta

import pytest
from django.utils import translation

from studio.words import GrantKind
from tests import makers, marking, tree


def test_every_template_has_its_words_marked():
    unmarked = {
        tree.name(path): words
        for path in tree.files("templates", suffix=".html")
        if (words := marking.unmarked(path.read_text()))
    }

    assert unmarked == {}, "mark these: {% translate %} or {% blocktranslate %}"


@pytest.mark.parametrize(
    ("template", "left"),
    [
        ("<p>Nothing yet.</p>", ["Nothing yet."]),
        ('{% translate "Day off" %} <p>18 · {{ name }}</p>', []),
        ("{% blocktranslate %}Hi {{ name }}{% endblocktranslate %} there", ["there"]),
        ("{% comment %}for whom{% endcomment %}{# why #}", []),
        ('<svg aria-label="Your month"></svg>', ["Your month"]),
        ('{% include "x.html" with label="Notes" state="filed" only %}', ["Notes"]),
        ("{% block title %}Today · Filar{% endblock %}", ["Today ·"]),
        ('{% block body %}class="student"{% endblock %}', []),
        ('<p class="a"{% if b %} hidden{% endif %} title="{% translate "Why" %}">Filar</p>', []),
        ("<style>p {}</style><script>go()</script>", []),
    ],
)
def test_a_word_that_is_not_marked_is_found_and_nothing_else(template, left):
    assert marking.unmarked(template) == left


@pytest.fixture
def another_language(monkeypatch):
    """A language in which everything is said in brackets."""
    spoken_in = vars(translation)["_trans"]
    monkeypatch.setattr(spoken_in, "gettext", lambda words: f"⟦{words}⟧")
    monkeypatch.setattr(spoken_in, "ngettext", lambda one, many, n: f"⟦{one if n == 1 else many}⟧")


@pytest.mark.django_db
def test_the_months_words_are_asked_of_gettext(another_language):
    nor = makers.a_student(makers.a_studio())
    begun = makers.today(nor.studio) - timedelta(days=14)
    block = makers.a_block(nor, first_day=begun)
    for number in range(12):
        day = begun + timedelta(days=number)
        makers.a_check_in(nor, block=block, day=day, high_note=79, release=1 + number // 3)

    mine = makers.a_phone(makers.a_grant(nor)).get(f"/practice/{nor.public_id}/month")
    parents = makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT))
    family = parents.get(f"/parent/{nor.public_id}").content.decode()

    page = mine.content.decode()
    assert "⟦12 days.⟧ ⟦Your endings got cleaner.⟧" in page
    assert "⟦Your highest good notes. " in page
    assert "<h1>⟦My month⟧" in page
    assert "⟦Nor’s endings got cleaner.⟧" in family
    assert "<h1>⟦<bdi>Nor</bdi>’s long tones⟧" in family
