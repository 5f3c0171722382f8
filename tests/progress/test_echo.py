"""What waited on a phone is answered by an exact echo, or by words, and counts once.

The statuses are those of RFC 9110, sections 15.3 and 15.5: 201 created, 200 there already, 409 a
conflict with what is there, 422 cannot be processed.
"""

import hashlib
import threading
from datetime import UTC, date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import pytest
import time_machine
from django.db import IntegrityError, connections
from django.test import Client
from django_scopes import scopes_disabled

from progress.models import CheckIn, NotToday
from progress.queries.months import student_month
from studio.models import Discomfort, Tries
from tests import makers

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 3, 18, 0, tzinfo=UTC)
TODAY = date(2026, 3, 3)
FORM = "application/x-www-form-urlencoded"


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled(), time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def nor():
    student = makers.a_student(makers.a_studio())
    makers.a_block(student, first_day=TODAY - timedelta(days=20))
    return student


@pytest.fixture
def phone(nor):
    return makers.a_phone(makers.a_grant(nor))


def the_body(**changes: Any) -> str:
    fields = makers.the_answers(day=TODAY, done_at=NOW.isoformat())
    return urlencode(fields | {name: str(value) for name, value in changes.items()})


def send(phone: Client, student, body: str, page: str = "check-in") -> Any:
    path = f"/practice/{student.public_id}/{page}"
    return phone.post(path, body, content_type=FORM, headers={"Accept": "application/json"})


def test_a_new_check_in_is_echoed_with_its_key_and_the_hash_of_what_arrived(phone, nor):
    body = the_body()

    answer = send(phone, nor, body)

    row = CheckIn.objects.get()
    assert answer.status_code == 201
    assert answer.json() == {
        "key": str(row.key),
        "id": row.public_id,
        "hash": hashlib.sha256(body.encode()).hexdigest(),
    }
    assert answer.headers["Cache-Control"] == "no-store"


def test_the_same_again_is_the_same_row(phone, nor):
    body = the_body()

    first, *others = [send(phone, nor, body) for _ in range(4)]

    assert [one.status_code for one in others] == [200, 200, 200]
    assert {one.json()["id"] for one in others} == {first.json()["id"]}
    assert CheckIn.objects.count() == 1


def test_other_answers_under_the_same_key_are_a_conflict_and_the_first_stay(phone, nor):
    key = uuid4()
    send(phone, nor, the_body(key=key, sound=5))

    answer = send(phone, nor, the_body(key=key, sound=2))

    assert answer.status_code == 409
    assert answer.json() == {"words": "You saved Tuesday already with other answers."}
    assert CheckIn.objects.get().sound == 5


def test_what_cannot_be_taken_is_said_in_words(phone, nor):
    answer = send(phone, nor, the_body(day=TODAY - timedelta(days=9)))

    assert answer.status_code == 422
    assert answer.json() == {
        "words": "Sunday 22 February 2026 cannot be filled in: pick another day."
    }
    assert not CheckIn.objects.exists()


def test_a_phone_that_was_signed_out_gets_what_a_stranger_gets(nor):
    paired = makers.a_grant(nor)
    phone = makers.a_phone(paired)
    paired.grant.ended_at = NOW
    paired.grant.save()

    assert send(phone, nor, the_body()).status_code == 404
    assert send(Client(), nor, the_body()).status_code == 404
    assert not CheckIn.objects.exists()


@pytest.mark.parametrize("waited", [1, 7, 14])
def test_what_waited_on_the_phone_is_taken_for_its_own_day(phone, nor, waited):
    told = NOW - timedelta(days=waited)

    answer = send(phone, nor, the_body(day=told.date(), done_at=told.isoformat()))

    row = CheckIn.objects.get()
    assert (answer.status_code, row.day, row.done_at) == (201, told.date(), told)


def test_a_repeat_is_known_when_its_day_could_no_longer_be_filled_in(phone, nor):
    told = NOW - timedelta(days=7)
    body = the_body(day=told.date(), done_at=told.isoformat())
    send(phone, nor, body)

    with time_machine.travel(NOW + timedelta(days=40), tick=False):
        again = send(makers.a_phone(makers.a_grant(nor)), nor, body)

    assert again.status_code == 200
    assert CheckIn.objects.count() == 1


def test_two_phones_make_a_revision_and_the_day_counts_once(nor):
    for number, phone in enumerate(makers.a_phone(makers.a_grant(nor)) for _ in range(2)):
        send(phone, nor, the_body(sound=number + 1, done_at=NOW + timedelta(minutes=number)))

    month = student_month(nor, TODAY)
    assert CheckIn.objects.count() == 2
    assert [row.sound for row in month.check_ins.values()] == [2]
    assert [row.sound for row in month.revisions[TODAY]] == [1]
    assert month.filed_days == {TODAY}


def test_the_later_answers_stand_whichever_arrives_first(nor):
    phone = makers.a_phone(makers.a_grant(nor))
    send(phone, nor, the_body(sound=2, done_at=NOW))
    send(phone, nor, the_body(sound=1, done_at=NOW - timedelta(hours=2)))

    month = student_month(nor, TODAY)

    assert [row.sound for row in month.check_ins.values()] == [2]


def test_not_today_is_echoed_and_kept_for_the_day_it_was_told(phone, nor):
    yesterday = TODAY - timedelta(days=1)
    told = NOW - timedelta(days=1)
    body = urlencode({"key": uuid4(), "day": yesterday, "done_at": told.isoformat()})

    answer = send(phone, nor, body, "not-today/ill")

    assert answer.status_code == 201
    assert answer.json()["hash"] == hashlib.sha256(body.encode()).hexdigest()
    assert [(row.day, row.told_at) for row in NotToday.objects.all()] == [(yesterday, told)]


def test_not_today_that_waited_does_not_push_a_newer_one_aside(phone, nor):
    send(phone, nor, urlencode({"key": uuid4(), "done_at": NOW.isoformat()}), "not-today/away")
    old = (NOW - timedelta(hours=1)).isoformat()

    send(phone, nor, urlencode({"key": uuid4(), "done_at": old}), "not-today/no-time")

    assert [row.reason for row in NotToday.objects.all()] == ["away"]


@pytest.mark.parametrize("days", [-15, 2])
def test_not_today_for_a_day_that_cannot_be_is_said_in_words(phone, nor, days):
    body = urlencode({"key": uuid4(), "day": TODAY + timedelta(days=days)})

    answer = send(phone, nor, body, "not-today/away")

    assert answer.status_code == 422
    assert "is too long ago. Or it has not come yet." in answer.json()["words"]
    assert not NotToday.objects.exists()


def test_what_hurt_is_echoed_and_told_once(phone, nor):
    body = urlencode({"key": uuid4(), "day": TODAY, "step": 3})

    statuses = []
    for minutes in (0, 1):
        with time_machine.travel(NOW + timedelta(minutes=minutes), tick=False):
            statuses.append(send(phone, nor, body, "hurt").status_code)

    assert statuses == [201, 200]
    assert Discomfort.objects.count() == 1


def test_a_phone_is_told_whom_it_is_set_up_for_and_gets_a_token(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    phone = makers.a_phone(makers.a_grant(nor), makers.a_grant(sam))

    said = phone.get("/practice/phone").json()

    assert set(said["students"]) == {nor.public_id, sam.public_id}
    assert len(said["token"]) == 64
    assert Client().get("/practice/phone").json()["students"] == []


def test_the_token_that_a_phone_gets_lets_it_send(nor):
    strict = makers.a_phone(makers.a_grant(nor), enforce_csrf_checks=True)
    token = strict.get("/practice/phone").json()["token"]
    path, headers = f"/practice/{nor.public_id}/check-in", {"Accept": "application/json"}

    without = strict.post(path, the_body(), content_type=FORM, headers=headers)
    sent = strict.post(
        path, the_body(), content_type=FORM, headers=headers | {"X-CSRFToken": token}
    )

    assert (without.status_code, sent.status_code) == (403, 201)


def test_the_database_itself_refuses_a_second_row_under_a_key(nor):
    row = makers.a_check_in(nor, day=TODAY)

    with pytest.raises(IntegrityError):
        makers.a_check_in(nor, block=row.block, day=TODAY, key=row.key)


def at_once(number: int, work: Any) -> list[Any]:
    """Do something in many threads that start together, each with a database of its own."""
    together, results = threading.Barrier(number), []

    def one() -> None:
        together.wait()
        results.append(work())
        connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(number)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


@pytest.mark.battery
@pytest.mark.django_db(transaction=True)
def test_twenty_of_the_same_at_once_are_one_row(nor, is_battery, figures):
    runs = 200 if is_battery else 3
    paired = makers.a_grant(nor)

    for _ in range(runs):
        # Four thousand tries are more than a phone has in an hour.
        Tries.objects.all().delete()
        body = the_body()
        answers = at_once(20, lambda sent=body: send(makers.a_phone(paired), nor, sent))
        # One that ended in an error has answered nothing.
        assert len(answers) == 20
        assert {one.status_code for one in answers} <= {200, 201}
        assert len({one.json()["id"] for one in answers}) == 1

    assert CheckIn.objects.count() == runs
    figures.append(f"the same check-in 20 times at once, {runs} runs: {runs} rows, 0 errors")
