"""A twelve-year-old can read it: every page of students and parents, measured by textstat."""

import re
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django_scopes import scopes_disabled

from progress.templatetags.practice import check_in_words
from routines.engine.variants import Aim
from routines.player_words import player_words
from studio import letter_stop
from studio.words import GrantKind, GrantState, OfferKind
from tests import makers, reading, tree
from tests.progress import recording_makers

HARDEST_GRADE = 4.0
MOST_WORDS = 15
# The formula is made for running text; of a label it only counts the syllables.
SHORTEST_TEXT = 4
# Words on safety are the same wherever they stand, and exact before they are easy.
FIXED = {
    "Play only while it feels comfortable. If something hurts, stop for today and tell your "
    "teacher.",
    "If it comes back, or you faint or have chest pain, see a doctor before you play again.",
}

pytestmark = pytest.mark.django_db


def students_pages() -> list[Any]:
    """Open every page that a student or a parent may meet, in the states it may be in."""
    studio = makers.a_studio()
    today = makers.today(studio)
    pages = [
        Client().get(path) for path in ("/practice", "/pair", "/parent", "/practice/no-signal")
    ]
    pages += [Client().post(path, {"token": "none"}) for path in ("/pair", "/parent")]
    stop = letter_stop.address("student", makers.a_student(studio).public_id)
    path = urlsplit(stop).path
    pages += [Client().get(path), Client().post(path), Client().get(f"{path}x")]
    for begins, days_off in ((None, []), (3, []), (-60, []), (-7, [today.weekday()])):
        kim = makers.a_student(studio, name="Kim")
        phone = makers.a_phone(makers.a_grant(kim))
        parents = makers.a_phone(makers.a_grant(kim, kind=GrantKind.PARENT))
        if begins is not None:
            first_day = today + timedelta(days=begins)
            makers.a_block(kim, first_day=first_day, weekdays_off=days_off)
        pages += [phone.get(f"/practice/{kim.public_id}{page}") for page in ("", "/month")]
        pages += [parents.get(f"/parent/{kim.public_id}{page}") for page in ("", "/phones")]
    return pages + _a_month(studio) + _waiting(studio) + _full(studio)


def _a_month(studio) -> list[Any]:
    nor = makers.a_student(studio)
    begun = makers.today(studio) - timedelta(days=14)
    block = makers.a_block(nor, first_day=begun, weekdays_off=[])
    for number in range(13):
        day = begun + timedelta(days=number)
        makers.a_check_in(nor, block=block, day=day, high_note=79, release=2 + number // 5)
    mine = f"/practice/{nor.public_id}"
    phone = makers.a_phone(makers.a_grant(nor), makers.a_grant(makers.a_student(studio)))
    parents = makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT))
    told, hurt = {"hurt": "yes", "how_much": "pain"}, makers.the_answers(day=makers.today(studio))
    pages = [phone.get(mine + page) for page in ("", "/check-in", "/month", "/session")]
    pages += [phone.get("/practice"), parents.get("/parent")]
    pages.append(phone.post(f"{mine}/not-today/ill", follow=True))
    pages.append(phone.post(f"{mine}/check-in", hurt | {"sound": "", "effort": ""}))
    pages.append(phone.post(f"{mine}/check-in", hurt, follow=True))
    pages.append(phone.post(f"{mine}/check-in", hurt | {"sound": "1"}))
    for place in ("lips", "dizzy", "chest"):
        answers = makers.the_answers(day=makers.today(studio), place=place, **told)
        pages.append(phone.post(f"{mine}/check-in", answers, follow=True))
    for see in (False, True):
        nor.parents_see_hurts = see
        nor.save()
        pages += [parents.get(f"/parent/{nor.public_id}"), phone.get(f"{mine}/month")]
    for aim in Aim:
        with scopes_disabled():
            type(block).objects.filter(pk=block.pk).update(aim=aim)
        pages.append(parents.get(f"/parent/{nor.public_id}"))
    pages += [phone.get(f"{mine}/this-phone"), phone.post(f"{mine}/this-phone/code")]
    recording_makers.leave(nor, asked_for=block)
    recording_makers.a_recording(nor)
    pages += [phone.get(f"{mine}/recording")]
    return [*pages, phone.get(mine), phone.get(f"{mine}/check-in")]


def _waiting(studio) -> list[Any]:
    sam = makers.a_student(studio, name="Sam")
    makers.a_block(sam)
    phone = makers.a_phone(makers.a_grant(sam, state=GrantState.PROVISIONAL))
    parents = makers.a_phone(
        makers.a_grant(sam, kind=GrantKind.PARENT, state=GrantState.PROVISIONAL)
    )
    return [
        phone.get(f"/practice/{sam.public_id}/this-phone"),
        phone.get(f"/practice/{sam.public_id}"),
        parents.get(f"/parent/{sam.public_id}"),
        parents.get("/parent"),
    ]


def _full(studio) -> list[Any]:
    """Use a link of a student who has as many phones as allowed, and one of such parents."""
    ada = makers.a_student(studio, name="Ada")
    for kind in (GrantKind.STUDENT, GrantKind.PARENT):
        for _ in range(3):
            makers.a_grant(ada, kind=kind)
    makers.an_offer(ada, token="own")
    makers.an_offer(ada, token="parents", kind=OfferKind.PARENT)
    return [
        Client().post("/pair", {"token": "own"}),
        Client().post("/parent", {"token": "parents"}),
    ]


@pytest.fixture
def pages(monkeypatch) -> list[Any]:
    # A code to type is no word, and would be a hard one by chance.
    monkeypatch.setattr("studio.services.typed_code.new_code", lambda: "2" * 9)
    return students_pages()


def too_hard(text: str) -> bool:
    return reading.words(text) >= SHORTEST_TEXT and reading.grade(text) > HARDEST_GRADE


def test_every_page_of_students_and_parents_is_read_here(pages):
    theirs = {
        tree.name(path).removeprefix("templates/")
        for path in tree.files("templates", suffix=".html")
        if re.search(r'extends "student_base.html"', path.read_text())
    }

    assert theirs <= {template.name for page in pages for template in page.templates}


def test_every_text_is_of_grade_four_or_less_and_no_sentence_of_more_than_fifteen_words(pages):
    said = {text for page in pages for text in reading.said_on(page.content.decode())} - FIXED

    hard = {text: reading.grade(text) for text in said if too_hard(text)}
    long = {
        one for text in said for one in reading.sentences(text) if reading.words(one) > MOST_WORDS
    }
    assert len(said) > 150
    assert hard == {}
    assert long - {one for text in FIXED for one in reading.sentences(text)} == set()


def test_every_page_as_a_whole_is_of_grade_four_or_less(pages):
    for page in pages:
        told = [one for one in reading.said_on(page.content.decode()) if reading.words(one) > 3]

        assert reading.grade(" ".join(told)) <= HARDEST_GRADE


def said_by_scripts() -> set[str]:
    """Gather the sentences that students' scripts fill in, with a word for what is filled in."""
    found: set[str] = set()
    waiting: list[Any] = [player_words(), check_in_words()]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting += one.values()
        elif isinstance(one, list):
            waiting += one
        elif re.match(r"[A-Z“].*[.?!]$", text := str(one)):
            found.add(re.sub(r"\{\w+\}", "May", text))
    return found


def test_what_the_scripts_of_a_students_pages_say_is_as_easy():
    said = said_by_scripts()

    assert len(said) > 10
    assert {text: reading.grade(text) for text in said if too_hard(text)} == {}
    longest = max(reading.words(one) for text in said for one in reading.sentences(text))
    assert longest <= MOST_WORDS


def test_words_of_an_office_would_be_found():
    assert too_hard("Your authentication credentials could not be verified.")
    assert not too_hard("Wednesday 25 November to Wednesday 23 December 2026.")


def test_what_a_page_says_is_taken_from_it_a_place_at_a_time():
    page = (
        '<title>No</title><main><p>Hi <b>Nor</b>. Play.</p><svg aria-label="Low G"><text>1</text>'
        "</svg><button>Save</button><script>no()</script><p hidden>Later.</p></main>"
    )

    assert list(reading.said_on(page)) == ["Hi Nor. Play.", "Save", "Later.", "Low G"]
    assert reading.sentences("Hi Nor. Play.") == ["Hi Nor.", "Play."]
