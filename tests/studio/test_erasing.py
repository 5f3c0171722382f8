"""Erasing a student in the browser: asked twice, said plainly, and gone for good."""

import pytest
from django.test import Client
from django.urls import reverse
from django_scopes import scopes_disabled

from studio.models import AuditLine, Student
from studio.words import Role
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return makers.a_teacher(role=Role.OWNER)


@pytest.fixture
def nor(owner):
    student = makers.a_student(makers.studio_of(owner), name="Nór Quillfeather")
    makers.a_block(student)
    return student


def page_of(student) -> str:
    return reverse("studio:erase_student", args=[student.public_id])


def signed_in_just_now(user) -> Client:
    """Make a browser in which somebody has just typed the password."""
    browser = makers.signed_in(user)
    browser.post(reverse("account_reauthenticate"), {"password": makers.PASSWORD})
    return browser


def is_there(student) -> bool:
    with scopes_disabled():
        return bool(Student.objects.filter(pk=student.pk).exists())


def test_the_password_is_asked_again_first(owner, nor):
    answer = makers.signed_in(owner).post(page_of(nor), {"name": nor.name})

    assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))
    assert is_there(nor)


def test_the_wrong_name_erases_nobody_and_says_so(owner, nor):
    page = signed_in_just_now(owner).post(page_of(nor), {"name": "Norr"})

    assert page.status_code == 422
    assert "“Norr” is not the name" in page.content.decode()
    assert is_there(nor)


def test_the_name_erases_the_student_and_every_way_to_them(owner, nor):
    phone = makers.a_phone(makers.a_grant(nor))
    browser = signed_in_just_now(owner)

    answer = browser.post(page_of(nor), {"name": "nór  quillfeather "}, follow=True)

    assert "The student is erased for good." in answer.content.decode()
    assert "Quillfeather" not in answer.content.decode()
    assert phone.get(f"/practice/{nor.public_id}").status_code == 404
    assert browser.get(f"/students/{nor.public_id}").status_code == 404
    with scopes_disabled():
        lines = AuditLine.objects.filter(studio=nor.studio)
        assert nor.public_id not in str(list(lines.values()))
        assert lines.filter(kind="erased", by=owner, about="erased").count() == 1


def test_only_an_owner_may(nor):
    teacher = makers.a_teacher(nor.studio)

    answer = signed_in_just_now(teacher).post(page_of(nor), {"name": nor.name})

    assert answer.status_code == 403
    assert is_there(nor)
