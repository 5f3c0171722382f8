"""Every page is asked of gettext: in a language of brackets no word is left outside them."""

import json
import re
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.template import Context, Template
from django.test import Client
from django.urls import Resolver404, resolve
from django_scopes import scopes_disabled

from routines.models import Template as Kept
from studio.models import Student, Studio, User
from tests import brackets, makers, test_reading

pytestmark = pytest.mark.django_db

# A page of each kind is enough; a student's page differs by what is known of the student.
EACH = {"progress:student": 8, "progress:review_block": 4, "progress:charts": 2}
FILES = {
    "progress:recorded_sound",
    "routines:notes",
    "routines:sound",
    "routines:calendar",
    "routines:roster_sample",
}


@pytest.fixture
def another_language(monkeypatch):
    brackets.speak(monkeypatch)


def names_and_words() -> tuple[str, ...]:
    """List what people called themselves and each other: it is the same in every language."""
    with scopes_disabled():
        return (
            *Student.objects.values_list("name", flat=True),
            *Student.objects.values_list("group", flat=True),
            *User.objects.values_list("name", flat=True),
            *Studio.objects.values_list("name", flat=True),
            *Kept.objects.values_list("name", flat=True),
        )


@pytest.mark.parametrize(
    ("page", "bare"),
    [
        ("<p>⟦Hi <bdi>Nor</bdi>, ⟦today⟧⟧ 18 · F♯4</p>", []),
        ("<p>⟦Hi⟧ there</p>", ["there"]),
        ('<svg aria-label="Your month"></svg>', ["Your month"]),
        ("<option>mf: ⟦medium loud⟧</option><code>link</code>", []),
        ("<script>go()</script><p>Runa</p>", []),
        ("<p>Runa, teacher</p>", ["Runa, teacher"]),
    ],
)
def test_a_word_outside_the_brackets_is_found_and_nothing_else(page, bare):
    assert brackets.bare_words(page, ("Runa",)) == bare


def test_a_template_that_is_not_marked_would_be_found(another_language):
    marked = '{% load i18n %}<h1>{% translate "Your phones" %}</h1><p>No phone yet.</p>'

    assert brackets.bare_words(Template(marked).render(Context())) == ["No phone yet."]


def test_no_page_of_students_and_parents_says_a_word_outside(another_language):
    pages = test_reading.students_pages()

    data = (*names_and_words(), "Nor", "Kim", "Sam", "Ada")
    said = {word for page in pages for word in brackets.bare_words(page.content.decode(), data)}
    assert said == set()


def test_no_page_of_a_teacher_says_a_word_outside(another_language):
    out = StringIO()
    call_command("demo_studio", "--json", stdout=out)
    with scopes_disabled():
        owner = User.objects.get(email=json.loads(out.getvalue())["teacher"]["email"])
    data = names_and_words()

    pages = list(walk(makers.signed_in(owner)))

    found = {path: words for path, page in pages if (words := brackets.bare_words(page, data))}
    assert found == {}
    assert len(pages) > 40


def walk(client: Client) -> Any:
    """Open every page that links lead to, a few of each kind, from the overview on."""
    waiting, seen, opened = ["/overview"], {"/overview"}, dict[str, int]()
    while waiting:
        path = waiting.pop(0)
        kind = kind_of(path)
        if not kind or kind in FILES or opened.get(kind, 0) >= EACH.get(kind, 1):
            continue
        answer = client.get(path)
        if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
            continue
        opened[kind] = opened.get(kind, 0) + 1
        page = answer.content.decode()
        yield path, page
        # A form that is sent empty says what is missing.
        if f'action="{path}"' in page:
            yield f"{path} sent empty", client.post(path).content.decode()
        for link in re.findall(r'href="(/[^"#]*)', page):
            if link not in seen:
                seen.add(link)
                waiting.append(link.replace("&amp;", "&"))


def kind_of(path: str) -> str:
    try:
        return resolve(path.partition("?")[0]).view_name
    except Resolver404:
        return ""
