"""What a student says differently a moment later: nothing is lost and nothing is told twice."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import CheckIn, NotToday
from progress.queries.months import student_month
from routines.engine.instruments import by_id
from routines.engine.plan import baseline
from studio.models import Discomfort, Interruption
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def nor():
    return makers.a_student(makers.studio_of(makers.a_teacher()))


@pytest.fixture
def phone(nor):
    makers.a_block(nor)
    return makers.a_phone(makers.a_grant(nor))


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def path_of(student, page: str = "") -> str:
    return f"/practice/{student.public_id}{page}"


def answers(student, **changes) -> dict[str, str]:
    return makers.the_answers(**{"day": makers.today(student.studio)} | changes)


def test_other_answers_under_the_same_key_come_back_ready_to_be_saved_as_a_change(phone, nor):
    data = answers(nor, sound="5")
    phone.post(path_of(nor, "/check-in"), data)

    page = phone.post(path_of(nor, "/check-in"), data | {"sound": "2"})
    again = data | {"sound": "2", "key": page.context["form"]["key"].value()}
    phone.post(path_of(nor, "/check-in"), again)

    assert page.status_code == 409
    assert page.context["form"]["sound"].value() == "2"
    assert list(CheckIn.objects.order_by("pk").values_list("sound", flat=True)) == [5, 2]


def test_what_hurt_in_the_session_is_the_same_discomfort_when_the_check_in_says_more(phone, nor):
    phone.post(path_of(nor, "/hurt"), {"key": uuid4(), "step": "3"})

    page = phone.get(path_of(nor, "/check-in"))
    phone.post(path_of(nor, "/check-in"), answers(nor, hurt="yes", how_much="mild", place="lips"))

    assert page.context["hurt_today"]
    assert list(Discomfort.objects.values_list("place", "how_much")) == [("lips", "mild")]


def test_not_today_can_be_taken_back_with_what_it_told(phone, nor):
    phone.post(path_of(nor, "/not-today/ill"))
    assert Interruption.objects.count() == 1

    phone.post(path_of(nor, "/not-today/take-back"))

    assert NotToday.objects.count() == 0
    assert Interruption.objects.count() == 0


def test_another_reason_takes_the_place_of_the_first(phone, nor):
    phone.post(path_of(nor, "/not-today/ill"))

    phone.post(path_of(nor, "/not-today/no-time"))

    assert [row.reason for row in NotToday.objects.all()] == ["no time"]
    assert Interruption.objects.count() == 0


def test_a_reason_that_a_teacher_has_confirmed_is_not_taken_back(phone, nor):
    phone.post(path_of(nor, "/not-today/ill"))
    Interruption.objects.update(confirmed_at=timezone.now())

    phone.post(path_of(nor, "/not-today/take-back"))

    assert Interruption.objects.count() == 1


def test_a_check_in_counts_for_the_block_it_was_played_under(nor):
    today = makers.today(nor.studio)
    old = makers.a_block(nor, first_day=today - timedelta(days=30))
    makers.a_check_in(nor, block=old, day=old.last_day)
    makers.a_block(nor, first_day=old.last_day + timedelta(days=1))

    month = student_month(nor, today)

    assert month.check_ins == {}
    assert month.reasons == ()


def test_the_days_to_fill_in_may_reach_back_to_another_instrument(nor):
    today = makers.today(nor.studio)
    makers.a_block(nor, first_day=today - timedelta(days=27))
    nor.instrument = "tuba_f"
    nor.save()
    tuba = baseline(by_id("tuba_f"))
    makers.a_block(nor, plan=tuba, first_day=today + timedelta(days=1))
    phone = makers.a_phone(makers.a_grant(nor))

    offered = [
        value for value, _ in phone.get(path_of(nor, "/check-in")).context["form"].high_notes
    ]

    assert "79" in offered


def test_a_block_replaced_after_todays_check_in_asks_for_nothing_more_today(nor):
    today = makers.today(nor.studio)
    old = makers.a_block(nor, first_day=today - timedelta(days=7), ended_on=today)
    makers.a_check_in(nor, block=old, day=today)
    old.ended_on = today - timedelta(days=1)
    old.save()
    makers.a_block(nor, first_day=today)

    page = makers.a_phone(makers.a_grant(nor)).get(path_of(nor))

    assert page.context["state"] == "done"
    assert page.context["month"].check_ins == {}
