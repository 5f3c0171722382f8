"""Who guesses learns nothing from how long the answer takes: a wrong guess costs the same work.

ASVS 5.0.0, V6.3.8, from memory. No test here asserts a time. What takes time is counted instead:
the hashes of a password hasher, by far the slowest step, and the questions to the database.
"""

from collections.abc import Callable
from datetime import timedelta
from functools import partial

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Offer
from studio.services import pairing, typed_code
from studio.words import OfferKind
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def hashes(monkeypatch) -> list[str]:
    """What the password hasher of the tests has hashed."""
    done: list[str] = []
    usual = MD5PasswordHasher.encode

    def encode(self, password, salt):
        done.append(password)
        return usual(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", encode)
    return done


def work_of(ask: Callable[[], object], hashes: list[str]) -> tuple[object, int, int]:
    """Ask once, and give the answer, the hashes and the questions that it took."""
    hashes.clear()
    with CaptureQueriesContext(connection) as asked:
        answer = ask()
    return answer, len(hashes), len(asked)


def sign_in(email: str) -> tuple[int, bool]:
    answer = Client().post("/sign-in", {"login": email, "password": "long tones before lunch"})
    return answer.status_code, "do not go together" in answer.content.decode()


def test_an_account_that_is_not_there_takes_as_much_as_a_wrong_password(hashes):
    teacher = makers.a_teacher(email="runa@example.org")
    closed = makers.a_teacher(email="bea@example.org")
    closed.is_active = False
    closed.save()
    work_of(lambda: sign_in("first@example.org"), hashes)

    known = work_of(lambda: sign_in(teacher.email), hashes)
    unknown = work_of(lambda: sign_in("nobody@example.org"), hashes)
    over = work_of(lambda: sign_in(closed.email), hashes)

    assert known == unknown == over
    assert known[0] == (200, True)
    assert known[1] == 1


def a_code(student) -> str:
    with scopes_disabled():
        made = pairing.make_offer(student, kind=OfferKind.LESSON, by=None, moment=timezone.now())
    return made.code


def type_a_code(code: str) -> int:
    return Client().post("/pair", {"code": code}).status_code


def other(symbols: str) -> str:
    """Change every symbol of a part of a code into another one."""
    return "".join(typed_code.SYMBOLS[typed_code.SYMBOLS.index(one) - 1] for one in symbols)


def test_a_code_that_finds_nothing_takes_as_much_as_one_that_opens_nothing(hashes):
    code = a_code(makers.a_student(makers.a_studio()))
    finder, opener = code[:3], code[3:]

    found = work_of(lambda: type_a_code(finder + other(opener)), hashes)
    not_found = work_of(lambda: type_a_code(other(finder) + opener), hashes)
    with scopes_disabled():
        Offer.objects.update(code_tries=typed_code.MOST_TRIES)
    used_up = work_of(lambda: type_a_code(finder + other(opener)), hashes)

    assert [one[:2] for one in (found, not_found, used_up)] == [(410, 1)] * 3


def open_a_link(token: str) -> int:
    return Client().post("/pair", {"token": token}).status_code


def test_a_link_takes_the_same_whether_unknown_used_or_too_old(hashes):
    student = makers.a_student(makers.a_studio())
    makers.an_offer(student, token="a used one", used_at=timezone.now())
    makers.an_offer(student, token="an old one", lasts=timedelta(0))
    Client().post("/pair", {"token": "the first try"})

    work = [
        work_of(partial(open_a_link, token), hashes)
        for token in ("unknown", "a used one", "an old one", "a used on")
    ]

    assert set(work) == {(410, 0, work[0][2])}
