"""What stands in the record: each thing once, by ids, and no name or word of anybody."""

from typing import Any

import pytest
from django.test import Client
from django_scopes import scopes_disabled

from studio.models import AuditLine
from studio.record_words import SENTENCES
from studio.words import AuditKind, GrantState, Role
from tests import makers

pytestmark = pytest.mark.django_db
NAME = "Quillfeather"


@pytest.fixture
def owner():
    return makers.a_teacher(role=Role.OWNER, name=f"Runa {NAME}")


@pytest.fixture
def nor(owner):
    return makers.a_student(makers.studio_of(owner), name=f"Nor {NAME}")


def kinds(studio) -> list[str]:
    with scopes_disabled():
        return list(AuditLine.objects.filter(studio=studio).values_list("kind", flat=True))


def lines() -> str:
    with scopes_disabled():
        return str(list(AuditLine.objects.values()))


PAGES: dict[AuditKind, tuple[str, dict[str, str]]] = {
    AuditKind.LINK: ("/students/{student}/phones/link", {}),
    AuditKind.CONFIRMED: ("/phones/{phone}/confirm", {}),
    AuditKind.REFUSED: ("/phones/{phone}/refuse", {}),
    AuditKind.SIGNED_OUT: ("/phones/{phone}/sign-out", {}),
    AuditKind.OFF_THE_LISTS: ("/students/{student}/archive", {}),
    AuditKind.PARENTS_SEE: ("/students/{student}/parents-see", {"see": "yes"}),
    AuditKind.COPIED_STUDENT: ("/students/{student}/copy.json", {}),
    AuditKind.SETTINGS: ("/settings/privacy", {"keep_months": "36"}),
}


@pytest.mark.parametrize("kind", PAGES)
def test_each_thing_stands_there_once_and_names_nobody(kind, owner, nor):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    page, fields = PAGES[kind]
    address = page.format(student=nor.public_id, phone=phone.public_id)

    makers.signed_in(owner).post(address, fields)

    assert kinds(nor.studio) == [kind]
    assert NAME not in lines()


@pytest.mark.parametrize("answer", ["confirm", "refuse", "sign-out"])
def test_what_is_said_twice_stands_there_once(answer, owner, nor):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    browser = makers.signed_in(owner)

    for _ in range(2):
        browser.post(f"/phones/{phone.public_id}/{answer}")

    assert len(kinds(nor.studio)) == 1


def test_a_phone_that_sets_itself_up_stands_there(nor):
    makers.an_offer(nor, token="open")

    Client().post("/pair", {"token": "open"})

    assert kinds(nor.studio) == [AuditKind.SET_UP]


def test_a_changed_yes_of_a_parent_stands_there_without_its_words(owner, nor):
    fields: dict[str, Any] = {
        "name": nor.name, "instrument": "trumpet_bb", "grade": "open", "child": "yes",
        "consent_on": "2026-02-01", "consent_how": "spoke with the mother",
    }  # fmt: skip
    answer = makers.signed_in(owner).post(f"/students/{nor.public_id}/details", fields)

    assert answer.status_code == 302
    assert kinds(nor.studio) == [AuditKind.CONSENT]
    assert "mother" not in lines()


def test_the_page_says_it_with_todays_names(owner, nor):
    browser = makers.signed_in(owner)
    browser.post(f"/students/{nor.public_id}/phones/link")

    page = browser.get("/settings/privacy/record").content.decode()

    assert f"<bdi>Runa {NAME}</bdi> made a link or code for <bdi>Nor {NAME}</bdi>." in page


def test_a_name_full_of_marks_stays_a_name(owner):
    odd = makers.a_student(makers.studio_of(owner), name="<b>{by}</b>%s")
    browser = makers.signed_in(owner)
    browser.post(f"/students/{odd.public_id}/phones/link")

    page = browser.get("/settings/privacy/record").content.decode()

    assert "&lt;b&gt;{by}&lt;/b&gt;%s" in page


def test_every_kind_has_its_sentence():
    assert set(SENTENCES) == set(AuditKind)


def test_more_than_twenty_copies_an_hour_have_to_wait(owner, nor):
    browser = makers.signed_in(owner)

    statuses = [browser.post(f"/students/{nor.public_id}/copy.json").status_code for _ in range(22)]

    assert statuses == [200] * 20 + [429] * 2
