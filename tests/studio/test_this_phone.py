"""What a student can do about the phone in their hand."""

import pytest
from django.conf import settings
from django.test import Client

from studio.words import GrantKind, GrantState
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def nor():
    return makers.a_student(makers.a_studio())


def page_of(student, rest="") -> str:
    return f"/practice/{student.public_id}/this-phone{rest}"


def test_a_confirmed_phone_brings_another_browser_by_itself(nor):
    page = makers.a_phone(makers.a_grant(nor)).post(page_of(nor, "/code"))
    code = makers.code_on(page)
    other = Client()

    other.post("/pair", {"code": code})

    assert other.get(f"/practice/{nor.public_id}/month").status_code == 200


@pytest.mark.parametrize(
    "kind", [{"state": GrantState.PROVISIONAL}, {"kind": GrantKind.ONCE}], ids=["waits", "once"]
)
def test_a_phone_that_waits_or_is_for_an_hour_brings_none(nor, kind):
    phone = makers.a_phone(makers.a_grant(nor, **kind))

    assert phone.post(page_of(nor, "/code")).status_code == 403
    assert "Make a code" not in phone.get(page_of(nor)).content.decode()


def test_signing_out_forgets_one_student_and_leaves_the_other(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    phone = Client()
    held = [makers.a_grant(nor).cookie, makers.a_grant(sam).cookie]
    phone.cookies[settings.PHONE_COOKIE_NAME] = "~".join(held)

    answer = phone.post(page_of(nor, "/sign-out"))

    assert answer.headers["Clear-Site-Data"] == '"cache"'
    assert phone.get(f"/practice/{nor.public_id}").status_code == 404
    assert phone.get(f"/practice/{sam.public_id}").status_code == 200
    copied = Client()
    copied.cookies[settings.PHONE_COOKIE_NAME] = held[0]
    assert copied.get(f"/practice/{nor.public_id}").status_code == 404


def test_the_last_student_takes_the_cookie_along(nor):
    phone = makers.a_phone(makers.a_grant(nor))

    phone.post(page_of(nor, "/sign-out"))

    assert phone.cookies[settings.PHONE_COOKIE_NAME].value == ""
    assert "not set up" in phone.get("/practice").content.decode()


def test_a_parents_phone_or_anothers_does_nothing_here(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    others = [
        makers.a_phone(makers.a_grant(sam)),
        makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT)),
        makers.a_phone(makers.a_grant(nor, state=GrantState.ENDED)),
    ]

    assert {phone.post(page_of(nor, "/sign-out")).status_code for phone in others} == {404}
