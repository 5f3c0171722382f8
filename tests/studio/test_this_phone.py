"""What a student can do about the phone in their hand."""

import pytest
from django.conf import settings
from django.test import Client
from django_scopes import scopes_disabled

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


def paired_again(nor, *held: makers.PairedPhone) -> list[str]:
    """Set a phone up for a student while it holds these; say what it holds then, newest last."""
    phone = makers.a_phone(*held)
    makers.an_offer(nor, token="abc")

    assert phone.post("/pair", {"token": "abc"}).status_code == 302

    return phone.cookies[settings.PHONE_COOKIE_NAME].value.split("~")


@pytest.mark.parametrize("place", [0, 1])
def test_what_a_phone_held_that_is_over_is_dropped_and_the_rest_is_kept(nor, place):
    sam = makers.a_grant(makers.a_student(nor.studio, name="Sam"))
    tam = makers.a_student(nor.studio, name="Tam")
    held = [sam]
    held.insert(place, makers.a_grant(tam, state=GrantState.ENDED))

    parts = paired_again(nor, *held)

    assert parts[:-1] == [sam.cookie]


@pytest.mark.parametrize("place", [0, 1])
def test_a_phone_set_up_again_holds_its_student_once_and_the_others_still(nor, place):
    sam, before = makers.a_grant(makers.a_student(nor.studio, name="Sam")), makers.a_grant(nor)
    held = [sam]
    held.insert(place, before)

    parts = paired_again(nor, *held)

    assert parts[:-1] == [sam.cookie]
    with scopes_disabled():
        before.grant.refresh_from_db()
    assert before.grant.state == GrantState.ENDED


def test_half_a_secret_beside_the_whole_one_is_dropped(nor):
    sam = makers.a_grant(makers.a_student(nor.studio, name="Sam"))
    phone = Client()
    phone.cookies[settings.PHONE_COOKIE_NAME] = f"{sam.grant.public_id}~{sam.cookie}"
    makers.an_offer(nor, token="abc")

    phone.post("/pair", {"token": "abc"})

    first, _ = phone.cookies[settings.PHONE_COOKIE_NAME].value.split("~")
    assert first == sam.cookie


@pytest.mark.parametrize("state", [GrantState.CONFIRMED, GrantState.PROVISIONAL])
def test_a_phone_with_no_new_secret_to_come_keeps_the_one_it_has(nor, state):
    phone = makers.a_phone(makers.a_grant(nor, state=state))

    answers = [phone.get(f"/practice/{nor.public_id}") for _ in range(3)]

    assert [answer.status_code for answer in answers] == [200] * 3
    assert [settings.PHONE_COOKIE_NAME in answer.cookies for answer in answers] == [False] * 3


def test_a_phone_whose_new_secret_was_lost_on_the_way_gets_it_again(nor):
    held = makers.a_grant(nor, secret_is_new=False)

    given = [
        makers.a_phone(held).get(f"/practice/{nor.public_id}").cookies[settings.PHONE_COOKIE_NAME]
        for _ in range(2)
    ]

    assert given[0].value == given[1].value != held.cookie
    again = Client()
    again.cookies[settings.PHONE_COOKIE_NAME] = given[1].value
    assert again.get(f"/practice/{nor.public_id}").status_code == 200


def test_an_answer_that_carries_no_cookie_makes_no_new_secret(nor):
    makers.a_block(nor, weekdays_off=[])
    held = makers.a_grant(nor, secret_is_new=False)

    answer = makers.a_phone(held).post(
        f"/practice/{nor.public_id}/check-in",
        makers.the_answers(day=makers.today(nor.studio)),
        headers={"Accept": "application/json"},
    )

    assert answer.status_code == 201
    with scopes_disabled():
        held.grant.refresh_from_db()
    assert (held.grant.next_secret_hash, held.grant.last_day) == ("", makers.today(nor.studio))


@pytest.mark.parametrize("is_secure", [False, True])
def test_after_signing_one_out_the_cookie_holds_the_other_as_long_as_ever(nor, settings, is_secure):
    settings.SESSION_COOKIE_SECURE = is_secure
    sam = makers.a_grant(makers.a_student(nor.studio, name="Sam"))
    phone = makers.a_phone(makers.a_grant(nor), sam)

    one = phone.post(page_of(nor, "/sign-out")).cookies[settings.PHONE_COOKIE_NAME]
    none = phone.post(page_of(sam.grant.student, "/sign-out")).cookies[settings.PHONE_COOKIE_NAME]

    # The draft RFC 6265bis, 5.5, from memory: no browser keeps a cookie over four hundred days.
    assert (one.value, one["max-age"]) == (sam.cookie, 400 * 24 * 60 * 60)
    assert (none.value, none["max-age"]) == ("", 0)
    assert [bool(cookie["secure"]) for cookie in (one, none)] == [is_secure] * 2


def test_a_parents_phone_or_anothers_does_nothing_here(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    others = [
        makers.a_phone(makers.a_grant(sam)),
        makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT)),
        makers.a_phone(makers.a_grant(nor, state=GrantState.ENDED)),
    ]

    assert {phone.post(page_of(nor, "/sign-out")).status_code for phone in others} == {404}
