"""A block whose first day is a day off: no page counts days of none."""

import re

import pytest

from routines.models import Block
from studio.words import GrantKind
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    student = makers.a_student(makers.studio_of(teacher))
    today = makers.today(student.studio)
    makers.a_block(student, first_day=today, weekdays_off=[today.weekday()])
    return student


def words(answer) -> str:
    assert answer.status_code == 200
    labels = re.sub(r'<[^>]+aria-label="([^"]*)"[^>]*>', r" \1 ", answer.content.decode())
    return " ".join(re.sub(r"<[^>]+>", " ", labels).split())


def test_the_students_pages_say_that_there_is_no_day_to_play(nor):
    phone = makers.a_phone(makers.a_grant(nor))

    assert "No day to play so far." in words(phone.get(f"/practice/{nor.public_id}"))
    assert "0 of 0" not in words(phone.get(f"/practice/{nor.public_id}/month"))


def test_the_page_for_parents_says_so(nor):
    said = words(makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT)).get(
        f"/parent/{nor.public_id}"
    ))  # fmt: skip

    assert "No day to play so far." in said
    assert "0 of 0" not in said


@pytest.mark.parametrize("page", ["/students/{}", "/review/{}", "/students/{}/report"])
def test_the_teachers_pages_say_so(teacher, nor, page):
    desk = makers.signed_in(teacher)
    whose = Block._base_manager.get() if page.startswith("/review") else nor

    said = words(desk.get(page.format(whose.public_id), follow=True))

    assert "No day to play so far." in said
    assert "0 of 0" not in said
