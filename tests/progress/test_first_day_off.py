"""A block whose first day is a day off: no page counts days of none."""

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


def page_of(browser, address: str) -> str:
    answer = browser.get(address, follow=True)
    assert answer.status_code == 200
    content: bytes = answer.content
    return content.decode()


def test_the_students_pages_say_that_there_is_no_day_to_play(nor):
    phone = makers.a_phone(makers.a_grant(nor))

    assert "No day to play so far." in page_of(phone, f"/practice/{nor.public_id}")
    assert "0 of 0" not in page_of(phone, f"/practice/{nor.public_id}/month")


def test_the_page_for_parents_says_so(nor):
    phone = makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT))

    said = page_of(phone, f"/parent/{nor.public_id}")

    assert "<p>No day to play so far.</p>" in said
    assert "0 of 0" not in said


@pytest.mark.parametrize("page", ["/students/{}", "/review/{}", "/students/{}/report"])
def test_the_teachers_pages_say_so(teacher, nor, page):
    whose = Block._base_manager.get() if page.startswith("/review") else nor

    said = page_of(makers.signed_in(teacher), page.format(whose.public_id))

    assert "No day to play so far." in said
    assert "0 of 0" not in said
