"""Strangers open a studio of their own only where a setting says so."""

import pytest
from django.test import Client
from django_scopes import scopes_disabled

from studio.models import Membership, Studio
from studio.words import Role
from tests import makers

pytestmark = pytest.mark.django_db
PAGE = "/open-a-studio"
TYPED = {
    "name": "Bea",
    "email": "bea@example.org",
    "password": makers.PASSWORD,
    "studio_name": "Harbour Brass",
    "time_zone": "Europe/Oslo",
    "note_naming": "german",
}


@pytest.fixture
def opened(settings):
    settings.SIGN_UP = True


def test_it_is_shut_unless_the_setting_opens_it():
    makers.a_studio()

    assert Client().get(PAGE).status_code == 404
    assert Client().post(PAGE, TYPED).status_code == 404
    assert Studio.objects.count() == 1
    assert "Open a studio" not in Client().get("/sign-in").content.decode()


def test_a_stranger_gets_a_studio_and_sees_no_other(opened):
    other = makers.a_student(makers.a_studio())
    browser = Client()

    answer = browser.post(PAGE, TYPED)

    assert answer.headers["Location"] == "/students/new"
    with scopes_disabled():
        place = Membership.objects.get(user__email="bea@example.org")
    assert (place.role, place.studio.name) == (Role.OWNER, "Harbour Brass")
    assert browser.get(f"/students/{other.public_id}").status_code == 404
    assert other.name not in browser.get("/overview").content.decode()


def test_an_e_mail_that_signs_in_already_opens_nothing_and_keeps_what_was_typed(opened):
    makers.a_teacher(email="bea@example.org")

    page = Client().post(PAGE, TYPED)

    assert page.status_code == 422
    assert "sign in with it instead" in page.content.decode()
    assert "Harbour Brass" in page.content.decode()
    assert not Studio.objects.filter(name="Harbour Brass").exists()


def test_what_is_missing_is_said(opened):
    page = Client().post(PAGE, TYPED | {"studio_name": "", "password": "short"})

    assert page.status_code == 422
    assert Studio.objects.count() == 0


def test_one_address_opens_five_an_hour(opened):
    statuses = [
        Client().post(PAGE, TYPED | {"email": f"bea{number}@example.org"}).status_code
        for number in range(7)
    ]

    assert statuses == [302] * 5 + [429] * 2
