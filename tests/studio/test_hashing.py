"""Nobody's writing waits while a password or a typed code is hashed.

SQLite lets one transaction write at a time, and a password hasher is slow on purpose.
"""

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.db import connection
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.services import pairing, people, standing, team, typed_code
from studio.words import OfferKind
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
BEA = {"name": "Bea", "email": "bea@example.org", "password": makers.PASSWORD}


@pytest.fixture
def open_meanwhile(monkeypatch) -> list[bool]:
    """Say of each hash that was made whether a transaction was open."""
    seen: list[bool] = []
    usual = MD5PasswordHasher.encode

    def encode(self: MD5PasswordHasher, password: str, salt: str) -> str:
        seen.append(connection.in_atomic_block)
        return str(usual(self, password, salt))

    monkeypatch.setattr(MD5PasswordHasher, "encode", encode)
    return seen


@pytest.mark.parametrize("begins", ["right", "wrong"])
@pytest.mark.parametrize("ends", ["right", "wrong"])
def test_a_typed_code(begins, ends, open_meanwhile, monkeypatch):
    student = makers.a_student(makers.a_studio())
    monkeypatch.setattr(typed_code, "new_code", lambda: "BCDFGHJKM")
    with scopes_disabled():
        pairing.make_offer(student, kind=OfferKind.LESSON, by=None, moment=timezone.now())
    assert open_meanwhile == [False], "while one is made"
    code = {"right": "BCD", "wrong": "XYZ"}[begins] + {"right": "FGHJKM", "wrong": "222222"}[ends]

    answer = Client().post("/pair", {"code": code})

    assert answer.status_code == (302 if (begins, ends) == ("right", "right") else 410)
    assert open_meanwhile == [False, False]


def test_the_first_teachers_password(open_meanwhile, monkeypatch, tmp_path):
    # What is committed notes that a studio is expected: not where the tests' database is.
    monkeypatch.setattr(standing, "note", lambda: tmp_path / "note")
    token = people.new_setup_token()

    made = people.set_up_studio(
        token=token or "", moment=timezone.now(), studio={"name": "North Street"}, teacher=BEA
    )

    assert made is not None
    assert open_meanwhile == [False]


def test_the_password_of_who_opens_a_studio(open_meanwhile):
    people.make_studio(studio={"name": "North Street"}, teacher=BEA)

    assert open_meanwhile == [False]


def test_the_password_of_who_joins_one(open_meanwhile):
    invitation = makers.an_invitation(makers.a_studio())

    made = team.join_with_new_account(invitation, account=BEA, moment=timezone.now())

    assert made is not None
    assert open_meanwhile == [False]
