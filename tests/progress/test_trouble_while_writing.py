"""A database that cannot write, at whichever statement: nothing is half there, and all of it later.

A full disk stops the statement that needs room (SQLite's result code FULL, PostgreSQL's 53100), a
lock that somebody holds the one that waits for it (BUSY, 55P03).
"""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlencode

import pytest
from django.contrib.sessions.models import Session
from django.db import OperationalError, connection, transaction
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import CheckIn
from studio.models import Offer, Student, Tries, User
from studio.services import pairing
from studio.sessions import SEEN
from studio.words import OfferKind
from tests import makers
from tests.test_roles import everything_stored

pytestmark = pytest.mark.django_db(transaction=True)

FULL = OperationalError("database or disk is full")
FORM = "application/x-www-form-urlencoded"
STATEMENTS = 200


@pytest.fixture
def student() -> Student:
    made = makers.a_student(makers.a_studio())
    makers.a_block(made, weekdays_off=[])
    return made


@pytest.fixture
def phone(student) -> Client:
    return makers.a_phone(makers.a_grant(student), raise_request_exception=False)


def send(phone: Client, student: Student, **changes: object) -> Any:
    now = datetime.now(UTC)
    fields = makers.the_answers(day=now.date(), done_at=now.isoformat(), **changes)
    return phone.post(
        f"/practice/{student.public_id}/check-in", urlencode(fields), content_type=FORM,
        headers={"Accept": "application/json"},
    )  # fmt: skip


def a_check_in_that_hurts(student: Student, phone: Client) -> Callable[[], Any]:
    return lambda: send(phone, student, hurt="yes", how_much="mild", place="lips")


def ill_today(student: Student, phone: Client) -> Callable[[], Any]:
    return lambda: phone.post(f"/practice/{student.public_id}/not-today/ill")


def a_phone_set_up(student: Student, _phone: Client) -> Callable[[], Any]:
    makers.an_offer(student, token="one-link")
    new = Client(raise_request_exception=False)
    return lambda: new.post("/pair", {"token": "one-link"})


def a_code_typed(student: Student, _phone: Client) -> Callable[[], Any]:
    with scopes_disabled():
        made = pairing.make_offer(student, kind=OfferKind.LESSON, by=None, moment=timezone.now())
    new = Client(raise_request_exception=False)
    return lambda: new.post("/pair", {"code": made.code})


def a_phone_set_up_again(student: Student, phone: Client) -> Callable[[], Any]:
    makers.an_offer(student, token="a-newer-link")
    return lambda: phone.post("/pair", {"token": "a-newer-link"})


def a_parents_phone_set_up(student: Student, _phone: Client) -> Callable[[], Any]:
    makers.an_offer(student, token="for-a-parent", kind=OfferKind.PARENT)
    new = Client(raise_request_exception=False)
    return lambda: new.post("/parent", {"token": "for-a-parent"})


def a_student_off_the_lists(student: Student, _phone: Client) -> Callable[[], Any]:
    browser = makers.signed_in(makers.a_teacher(student.studio), raise_request_exception=False)
    return lambda: browser.post(f"/students/{student.public_id}/archive")


WRITES = (
    a_check_in_that_hurts, ill_today, a_phone_set_up, a_code_typed, a_phone_set_up_again,
    a_parents_phone_set_up, a_student_off_the_lists,
)  # fmt: skip


@contextmanager
def a_disk_that_fills_up_at(number: int) -> Iterator[list[str]]:
    """Let the statement of this number fail, counted from 1; give those that were run."""
    run: list[str] = []

    def watch(execute: Any, sql: str, *given: Any) -> Any:
        run.append(sql)
        if len(run) == number:
            raise FULL
        return execute(sql, *given)

    with connection.execute_wrapper(watch):
        yield run


def rows() -> dict[str, Any]:
    """Every row but the counts of tries, which are kept whatever becomes of the try."""
    found = {name: row for name, row in everything_stored().items() if name != Tries.__name__}
    for offer in found[Offer.__name__]:
        del offer["code_tries"]
    return found


@pytest.mark.parametrize("write", WRITES)
def test_a_disk_that_is_full_at_any_statement_leaves_no_part(write, student, phone, figures):
    ask = write(student, phone)
    before, cases = rows(), 0

    for number in range(1, STATEMENTS):
        with a_disk_that_fills_up_at(number) as run:
            answer = ask()
        if len(run) < number:
            break
        cases += 1
        when = answer.headers.get("Retry-After")
        assert (number, answer.status_code, when) == (number, 503, "60"), run[-1]
        assert rows() == before, run[-1]

    assert answer.status_code in {201, 302}
    assert rows() != before
    assert cases >= 5
    figures.append(f"{write.__name__}: full at each of {cases} statements, 0 parts left")


def test_a_list_is_added_whole_or_not_at_all(student):
    teacher = makers.a_teacher(student.studio)
    fields = {"text": "name,instrument\nAda,horn\nBo,tuba\nCy,horn\n", "add": "yes"}
    there = 0

    for number in range(1, STATEMENTS):
        browser = makers.signed_in(teacher, raise_request_exception=False)
        with a_disk_that_fills_up_at(number) as run:
            answer = browser.post("/students/list", fields)
        with scopes_disabled():
            there = Student.objects.exclude(pk=student.pk).count()
        if len(run) < number or there:
            break
        assert answer.status_code == 503, run[-1]

    # Which list it was is noted after it; without that note it cannot be taken back, but is there.
    assert (there, answer.status_code) == (3, 503)


def in_use_for_a_while(teacher: User) -> Client:
    """A browser whose next page is noted, so that the sign-in lasts."""
    browser = makers.signed_in(teacher, raise_request_exception=False)
    session = browser.session
    del session[SEEN]
    session.save()
    return browser


def test_a_use_that_cannot_be_noted_is_no_mistake_of_whoever_asks(student):
    teacher = makers.a_teacher(student.studio)

    for number in range(1, STATEMENTS):
        browser = in_use_for_a_while(teacher)
        with a_disk_that_fills_up_at(number) as run:
            answer = browser.get("/help/numbers")
        if len(run) < number:
            break
        assert (answer.status_code, answer.headers.get("Retry-After")) == (503, "60"), run[-1]

    assert answer.status_code == 200
    assert any("django_session" in one and one.startswith("UPDATE") for one in run)


def test_a_sign_in_that_is_gone_meanwhile_is_not_taken_for_a_full_disk(student):
    browser = in_use_for_a_while(makers.a_teacher(student.studio))

    def forget(execute: Any, sql: str, *given: Any) -> Any:
        if sql.startswith('UPDATE "django_session"'):
            Session.objects.all().delete()
        return execute(sql, *given)

    with connection.execute_wrapper(forget):
        answer = browser.get("/help/numbers")

    assert answer.status_code == 400


@contextmanager
def held(student: Student) -> Iterator[None]:
    """Let somebody else hold the lock that a check-in of the student waits for."""
    holds, may_go = threading.Event(), threading.Event()

    def hold() -> None:
        with scopes_disabled(), transaction.atomic():
            Student.objects.select_for_update().get(pk=student.pk)
            holds.set()
            may_go.wait()
        connection.close()

    other = threading.Thread(target=hold)
    other.start()
    holds.wait()
    try:
        yield
    finally:
        may_go.set()
        other.join()


def wait_no_longer_than(milliseconds: int) -> None:
    """Shorten the patience of this connection; `tests/test_databases.py` holds its 20 seconds."""
    words = {"sqlite": "PRAGMA busy_timeout=%d", "postgresql": "SET lock_timeout=%d"}
    with connection.cursor() as cursor:
        cursor.execute(words[connection.vendor] % milliseconds)


def kept() -> set[str]:
    with scopes_disabled():
        return {str(key) for key in CheckIn.objects.values_list("key", flat=True)}


@pytest.mark.battery
def test_a_lock_that_is_held_too_long_is_answered_with_when_to_come_back(
    phone, student, is_battery, figures
):
    cases = 30 if is_battery else 2
    taken: set[str] = set()
    for number in range(cases):
        wait_no_longer_than(1 + number)
        with held(student):
            refused = send(phone, student)
        assert (refused.status_code, refused["Retry-After"]) == (503, "60")
        assert "words" in refused.json()
        assert kept() == taken
        wait_no_longer_than(20_000)
        again = send(phone, student)
        assert again.status_code == 201
        taken.add(again.json()["key"])
    connection.close()

    assert kept() == taken
    figures.append(f"locks held too long on {connection.vendor}: {cases} cases, 0 kept, 0 faults")


@pytest.mark.battery
def test_a_lock_that_is_let_go_in_time_is_waited_for(phone, student, is_battery, figures):
    cases = 30 if is_battery else 2
    for number in range(cases):
        answers: list[int] = []

        def post(answers: list[int] = answers) -> None:
            answers.append(send(phone, student).status_code)
            connection.close()

        waiting = threading.Thread(target=post)
        with held(student):
            waiting.start()
            waiting.join(timeout=0.02 * (number + 1))
            while_held = list(answers)
        waiting.join()
        assert (while_held, answers) == ([], [201])

    assert len(kept()) == cases
    figures.append(f"locks let go in time on {connection.vendor}: {cases} cases, 0 lost, 0 faults")
