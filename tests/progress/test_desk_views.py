"""The overview and a student's page at the teacher's desk."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django_scopes import scopes_disabled

from progress.engine.readiness import Outcome
from progress.forms.overview import code_of
from progress.models import LessonRating
from progress.views.overview import PARTS
from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db
CRITERIA = ("attack", "sound", "evenness", "release")


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


def test_the_months_that_end_this_week_stand_together_the_first_to_end_first(teacher, studio):
    for name, left in (("Later", 6), ("Soon", 1), ("Not yet", 7)):
        student = makers.a_student(studio, name=name)
        first = makers.today(studio) + timedelta(days=left - 27)
        makers.a_check_in(student, block=makers.a_block(student, first_day=first))

    context = makers.signed_in(teacher).get("/overview").context

    assert [row.month.student.name for row in context["ending"]] == ["Soon", "Later"]
    assert context["count_ending"] == 2


def a_part_of_the_studio(studio):
    makers.a_student(studio, name="Ada", lesson_day=1, group="Quay Street School")
    makers.a_student(studio, name="Bo", lesson_day=1, instrument="horn_f")
    makers.a_student(studio, name="Cid", lesson_day=3)


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ({}, "Ada Bo Cid"),
        ({"day": "1"}, "Ada Bo"),
        ({"instrument": "horn_f"}, "Bo"),
        ({"day": "1", "instrument": "trumpet_bb"}, "Ada"),
        ({"group": code_of("Quay Street School")}, "Ada"),
        ({"day": "9", "group": "nonsense", "instrument": "\x00"}, "Ada Bo Cid"),
    ],
)
def test_the_overview_can_be_narrowed_and_its_address_says_to_what(teacher, studio, asked, shown):
    a_part_of_the_studio(studio)

    context = makers.signed_in(teacher).get("/overview", asked).context

    rows = [row for part in PARTS for row in context[part]]
    assert " ".join(sorted(row.month.student.name for row in rows)) == shown


def test_a_group_is_not_named_in_the_address(teacher, studio):
    a_part_of_the_studio(studio)

    page = makers.signed_in(teacher).get("/overview").content.decode()

    assert f'value="{code_of("Quay Street School")}"' in page
    assert 'value="Quay' not in page


def test_a_phone_that_waits_for_its_yes_is_on_the_overview(teacher, nor):
    waiting = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    makers.a_grant(nor)

    page = makers.signed_in(teacher).get("/overview")

    assert page.context["phones"] == [waiting]
    assert '<a href="#phones-to-confirm">1 phone to confirm</a>' in page.content.decode()


def test_a_yes_on_the_overview_stays_there_for_the_next_phone(teacher, nor):
    waiting = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    yes = reverse("studio:answer_phone", args=[waiting.public_id, "confirm"])
    desk = makers.signed_in(teacher)
    assert 'name="from" value="overview"' in desk.get("/overview").content.decode()

    answer = desk.post(yes, {"from": "overview"})

    assert (answer.status_code, answer.headers["Location"]) == (302, "/overview")
    waiting.refresh_from_db()
    assert waiting.state == GrantState.CONFIRMED


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


def words_of(answer):
    return " ".join(answer.content.decode().split())


def a_block_that_is_over(nor, *, ended_ago, **values):
    """Make a month of good practice that ended some days ago, heard at two lessons."""
    last = makers.today(nor.studio) - timedelta(days=ended_ago)
    block = makers.a_block(nor, first_day=last - timedelta(days=27), **values)
    answers: dict[str, Any] = {**dict.fromkeys(CRITERIA, 5), "effort": 4, "completed": 1.0}
    for ago in range(2, 26):
        makers.a_check_in(nor, block=block, day=last - timedelta(days=ago), **answers)
    for ago in (10, 3):
        day, heard = last - timedelta(days=ago), dict.fromkeys(CRITERIA, 5)
        with scopes_disabled():
            LessonRating.objects.create(student=nor, block=block, day=day, filed_on=day, **heard)
    return last


def test_a_block_that_is_over_is_shown_as_it_stood_on_its_last_day(teacher, nor):
    last = a_block_that_is_over(nor, ended_ago=10)
    desk, said = makers.signed_in(teacher), f"On the last day, {date_format(last, 'j F')}:"

    page, overview = desk.get(f"/students/{nor.public_id}"), desk.get("/overview")

    assert page.context["row"].assessment.day == last
    assert said in words_of(page)
    assert said in words_of(overview)
    assert "at the next lesson" not in words_of(page)


def test_the_aim_of_the_block_is_named_beside_the_step(teacher, nor):
    a_block_that_is_over(nor, ended_ago=1, aim="dynamics")

    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}")

    assert page.context["row"].assessment.outcome is Outcome.MAY_BE_READY
    assert "1 aim is set: dynamics. The step follows it." in words_of(page)


def test_what_hurts_after_the_end_is_shown_as_of_today(teacher, nor):
    a_block_that_is_over(nor, ended_ago=10)
    makers.a_discomfort(nor)

    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}")

    assert page.context["row"].assessment.outcome is Outcome.EASE_OFF
    assert page.context["row"].assessment.day == makers.today(nor.studio)
    assert "On the last day" not in words_of(page)
