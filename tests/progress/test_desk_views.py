"""The overview and a student's page at the teacher's desk."""

from datetime import timedelta

import pytest
from django.utils import timezone

from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def studio(teacher):
    return makers.studio_of(teacher)


@pytest.fixture
def nor(studio):
    return makers.a_student(studio)


@pytest.fixture
def block(nor):
    return makers.a_block(nor)


@pytest.mark.parametrize("count", [1, 3])
def test_the_overview_asks_the_same_few_questions_at_any_size(
    teacher, studio, count, django_assert_num_queries
):
    for number in range(count):
        student = makers.a_student(studio, name=f"Student {number}")
        block = makers.a_block(student)
        makers.a_check_in(student, block=block, grant=makers.a_grant(student).grant)
        makers.a_discomfort(student)
        makers.a_grant(student, state=GrantState.PROVISIONAL)
    desk = makers.signed_in(teacher)

    with django_assert_num_queries(12):
        page = desk.get("/overview")

    assert len(page.context["look_in"]) == count


def test_the_overview_puts_what_hurt_first_and_sorts_the_others(teacher, studio):
    begun = makers.today(studio) - timedelta(days=12)
    for name in ("Calm", "Quiet", "Hurt", "Idle"):
        student = makers.a_student(studio, name=name)
        block = makers.a_block(student, first_day=begun) if name != "Idle" else None
        if name in {"Calm", "Hurt"}:
            makers.a_check_in(student, block=block)
        if name == "Hurt":
            makers.a_discomfort(student)

    context = makers.signed_in(teacher).get("/overview").context

    groups = {name: [row.month.student.name for row in context[name]]
              for name in ("look_in", "calm", "idle")}  # fmt: skip
    assert groups == {"look_in": ["Hurt", "Quiet"], "calm": ["Calm"], "idle": ["Idle"]}


def test_the_months_that_end_this_week_stand_beside_the_list_the_first_to_end_first(
    teacher, studio
):
    for name, left in (("Later", 6), ("Soon", 1), ("Not yet", 7)):
        student = makers.a_student(studio, name=name)
        makers.a_block(student, first_day=makers.today(studio) + timedelta(days=left - 27))

    ending = makers.signed_in(teacher).get("/overview").context["ending"]

    assert [month.student.name for month in ending] == ["Soon", "Later"]


def test_a_phone_that_waits_for_its_yes_is_on_the_overview(teacher, nor):
    waiting = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    makers.a_grant(nor)

    assert makers.signed_in(teacher).get("/overview").context["phones"] == [waiting]


def test_the_overview_does_not_show_who_has_left(teacher, studio):
    makers.a_student(studio, archived_on=timezone.now().date())

    context = makers.signed_in(teacher).get("/overview").context

    assert (context["look_in"], context["calm"], context["idle"]) == ([], [], [])


def test_the_students_page_shows_the_answers_and_the_ones_they_replaced(teacher, nor, block):
    first = makers.a_check_in(nor, block=block, words="Not so good")
    second = makers.a_check_in(
        nor, block=block, words="Better", done_at=first.done_at + timedelta(minutes=5)
    )

    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}")

    assert page.context["check_ins"] == [(second, [first])]
    assert "Better" in page.content.decode()
