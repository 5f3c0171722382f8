"""A student is erased while the student's own phone is sending."""

import random
import time
from contextlib import suppress
from uuid import uuid4

import pytest
from django.db import DatabaseError, IntegrityError
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.engine.check_in import NoSession
from progress.models import CheckIn, NotToday
from progress.services.check_ins import CheckInError, file_check_in, tell_not_today
from studio.models import AuditLine, Discomfort, ErasedStudent, Grant, Student
from studio.services import erase as erasing
from studio.services import pairing, phone_use
from studio.words import GrantKind, GrantState, OfferKind
from tests import makers
from tests.at_once import ANSWERS, at_once

pytestmark = pytest.mark.django_db(transaction=True)
RACES = 10
# About as long as erasing takes, so that some of the sending falls into the midst of it.
SECONDS = 0.03


def check_in(grant, _token, today, moment):
    file_check_in(grant, key=uuid4(), day=today, done_at=moment, moment=moment, **ANSWERS)


def not_today(grant, _token, today, moment):
    tell_not_today(grant, day=today, reason=NoSession.ILL, moment=moment)


def set_up(_grant, token, _today, moment):
    pairing.redeem(token, label="phone", moment=moment)


@pytest.mark.parametrize("sends", [check_in, not_today, set_up])
def test_what_a_phone_sends_meanwhile_neither_stops_it_nor_outlives_it(sends, monkeypatch):
    # The space is wiped after it, alone, and takes longer than all of this.
    monkeypatch.setattr(erasing, "_write_list_and_wipe", lambda: None)
    runa = makers.a_teacher()
    studio, delays = makers.studio_of(runa), random.Random(7)  # noqa: S311 - no secret
    for number in range(RACES):
        child = makers.a_student(studio, name=f"Nor {number}")
        makers.a_block(child)
        grant, today, now = makers.a_grant(child).grant, makers.today(studio), timezone.now()
        with scope(studio=studio):
            made = pairing.make_offer(child, kind=OfferKind.SENT, by=runa, moment=now)
            erased = Student.objects.select_related("studio").get(pk=child.pk)
        delay = delays.random() * SECONDS

        def phone(grant=grant, token=made.token, today=today, now=now, delay=delay):
            time.sleep(delay)
            # Whoever is erased can keep nothing.
            with suppress(CheckInError, DatabaseError):
                sends(grant, token, today, now)

        def teacher(erased=erased, now=now):
            erasing.erase(erased, by=runa, moment=now)

        at_once(studio, phone, teacher)

    with scopes_disabled():
        assert (Student.objects.count(), ErasedStudent.objects.count()) == (0, RACES)
        assert (CheckIn.objects.count(), Grant.objects.count()) == (0, 0)


def failing(sqlstate: str | None, times: int):
    """Stand in for erasing that fails so often, as PostgreSQL lets it."""
    left = [times]

    def erases(_student, *, by, moment):
        if left[0]:
            left[0] -= 1
            cause = Exception()
            if sqlstate:
                cause.sqlstate = sqlstate  # type: ignore[attr-defined]
            raise DatabaseError from cause
        return ErasedStudent(student_hash="erased")

    return erases


@pytest.mark.parametrize("sqlstate", ["23503", "40P01"])
def test_it_is_begun_again_a_few_times_and_no_more(sqlstate, monkeypatch):
    student = makers.a_student(makers.a_studio())
    often = erasing.ATTEMPTS

    monkeypatch.setattr(erasing, "_erase", failing(sqlstate, often - 1))
    assert erasing.erase(student, by=None, moment=timezone.now()).student_hash == "erased"

    monkeypatch.setattr(erasing, "_erase", failing(sqlstate, often))
    with pytest.raises(DatabaseError):
        erasing.erase(student, by=None, moment=timezone.now())


@pytest.mark.parametrize("sqlstate", [None, "53100"])  # a full disk
def test_other_trouble_is_not_tried_again(sqlstate, monkeypatch):
    student = makers.a_student(makers.a_studio())
    monkeypatch.setattr(erasing, "_erase", failing(sqlstate, 1))

    with pytest.raises(DatabaseError):
        erasing.erase(student, by=None, moment=timezone.now())


@pytest.mark.parametrize("what", ["not-today/ill", "hurt", "check-in"])
def test_a_phone_whose_student_is_erased_while_it_sends_is_told_that_it_is_not_kept(
    what, monkeypatch
):
    student = makers.a_student(makers.a_studio())
    makers.a_block(student)
    phone, today = makers.a_phone(makers.a_grant(student)), makers.today(student.studio)

    def erased_meanwhile(_studio, _moment):
        with scopes_disabled():
            Student.objects.filter(pk=student.pk).delete()
        return today

    for view in ("check_in", "told"):
        monkeypatch.setattr(f"progress.views.{view}.practice_day", erased_meanwhile)
    sent = ANSWERS | {"key": str(uuid4()), "day": today.isoformat(), "hurt": "no"}
    answer = phone.post(
        f"/practice/{student.public_id}/{what}", sent, headers={"accept": "application/json"}
    )

    assert answer.status_code == (422 if what == "check-in" else 404)
    with scopes_disabled():
        assert not any(model.objects.exists() for model in (CheckIn, NotToday, Discomfort))


def test_what_the_database_refuses_of_a_student_who_is_there_is_a_fault_of_ours(monkeypatch):
    student = makers.a_student(makers.a_studio())
    makers.a_block(student)
    phone = makers.a_phone(makers.a_grant(student), raise_request_exception=False)

    def refused(*_args, **_kwargs):
        raise IntegrityError

    monkeypatch.setattr(NotToday, "save", refused)

    assert phone.post(f"/practice/{student.public_id}/not-today/ill").status_code == 500


@pytest.fixture
def erased_first(monkeypatch):
    """Let the student be erased just before a phone is held for what is to be written of it."""

    def erases(students):
        with scopes_disabled():
            Student.objects.filter(pk__in=students).delete()

    monkeypatch.setattr(pairing, "lock_students", erases)


@pytest.mark.usefixtures("erased_first")
@pytest.mark.parametrize("answer", ["confirm", "refuse", "take-back", "sign-out"])
def test_a_teachers_answer_about_a_phone_whose_student_is_erased_meanwhile(answer):
    runa = makers.a_teacher()
    student = makers.a_student(makers.studio_of(runa))
    state = GrantState.REFUSED if answer == "take-back" else GrantState.PROVISIONAL
    grant = makers.a_grant(student, state=state).grant
    desk = makers.signed_in(runa)

    answered = desk.post(f"/phones/{grant.public_id}/{answer}")

    assert answered.status_code == 302
    assert desk.get(answered["Location"]).status_code == 404
    told = desk.get("/overview").content.decode()
    assert "is set aside" not in told
    assert "Confirmed:" not in told
    with scopes_disabled():
        # No line comes after the erasing that would name the id again.
        assert not AuditLine.objects.filter(about=student.public_id).exists()


@pytest.mark.usefixtures("erased_first")
def test_a_phone_signs_itself_out_though_its_student_is_erased_meanwhile():
    student = makers.a_student(makers.a_studio())
    phone = makers.a_phone(makers.a_grant(student))

    answered = phone.post(f"/practice/{student.public_id}/this-phone/sign-out")

    assert answered.status_code == 302
    assert not any(cookie.value for cookie in phone.cookies.values())


@pytest.mark.usefixtures("erased_first")
def test_a_parent_signs_out_a_phone_of_a_child_that_is_erased_meanwhile():
    child = makers.a_student(makers.a_studio())
    lost = makers.a_grant(child).grant
    parent = makers.a_phone(makers.a_grant(child, kind=GrantKind.PARENT))

    sent = parent.post(f"/parent/{child.public_id}/phones", {"phone": lost.public_id})

    assert sent.status_code == 302
    assert parent.get(sent["Location"]).status_code == 404


def test_the_day_of_a_phone_whose_student_is_erased_meanwhile_is_not_noted():
    student = makers.a_student(makers.a_studio())
    grant = makers.a_grant(student).grant
    with scopes_disabled():
        Student.objects.filter(pk=student.pk).delete()

        phone_use.note_use(grant, day=makers.today(student.studio))

        assert not Grant.objects.exists()
