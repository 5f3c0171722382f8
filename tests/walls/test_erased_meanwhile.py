"""A student is erased right after a page has read who it is about: it answers as if asked later.

Each address that may be sent something about a student is asked, as whoever may, with what its own
form would send. No answer is a fault, and nothing is written that would outlive the student.
"""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection
from django.utils import timezone
from django_scopes import scopes_disabled

from studio import erased_meanwhile, secrets
from studio.models import AuditLine, ErasedStudent, Student, User
from studio.words import GrantKind
from tests import makers
from tests.roles import Address, addresses, table
from tests.test_roles import World, a_body, a_world

pytestmark = pytest.mark.django_db(transaction=True)

ABOUT_A_STUDENT = {
    *("student_id", "grant_id", "discomfort_id", "check_in_id", "interruption_id", "block_id"),
    *("decision_id", "recording_id", "batch"),
}
# Here whom it is about is read and written in one transaction, with the rows held.
IN_ONE_GO = {"routines:undo_assign"}
NO_PLACE = {403, 404, 405}
NO_FAULT = {200, 201, 302, 404, 409, 422}


def whose(address: Address) -> str:
    """Name the role whose page sends to an address."""
    path = address.path(dict.fromkeys(address.asks, "sent") | {"answer": "confirm"})
    begin = path.split("/")[1]
    return {"practice": "student", "parent": "parent"}.get(begin, "teacher")


SENT = [
    one
    for one in addresses()
    if ABOUT_A_STUDENT & set(one.asks)
    and one.name not in IN_ONE_GO
    and table()[one.name, "POST"][whose(one)] not in NO_PLACE
]


def a_form(name: str, world: World) -> dict[str, Any]:
    """Write what is complete, so that something would be written."""
    heard = dict.fromkeys(("attack", "sound", "evenness", "release"), "4")
    forms: dict[str, dict[str, Any]] = {
        "progress:rate": heard | {"day": world.day},
        "progress:add_interruption": {"kind": "ill", "first_day": world.day},
        "progress:report": {"words": "A good month."},
        "progress:fix_day": {"day": ""},
        "progress:recordings": {
            "is_on": "on",
            "agreed_on": world.day,
            "agreed_how": "by letter",
            "keep_days": "60",
        },
    }
    return forms.get(name) or a_body(name, world)


def erased_once_read(world: World, ids: set[str]) -> Callable[..., Any]:
    """Erase the student when the first question by one of these ids has been answered."""
    left = [world.objects["student_id"]]

    def asked(execute: Any, sql: str, params: Any, *others: Any) -> Any:
        answer = execute(sql, params, *others)
        if left and not connection.in_atomic_block and ids & set(map(str, params or ())):
            erase(left.pop())
        return answer

    return asked


def erase(public_id: str) -> None:
    with scopes_disabled():
        student = Student.objects.select_related("studio").get(public_id=public_id)
        ErasedStudent.objects.create(
            student_hash=secrets.hashed(public_id),
            studio=student.studio.public_id,
            at=timezone.now(),
        )
        student.delete()


def test_what_is_sent_about_a_student_who_is_erased_meanwhile_is_no_fault():
    answers = {address.name: answer_after_erasing(address) for address in SENT}

    assert {name: code for name, code in answers.items() if code not in NO_FAULT} == {}


def answer_after_erasing(address: Address) -> int:
    world, role = a_world(), whose(address)
    browser = world.browsers[role]
    browser.raise_request_exception = False
    ids = {world.objects[name] for name in address.asks if name in ABOUT_A_STUDENT}
    if role != "teacher":
        ids |= {one.value.split(".")[0] for one in browser.cookies.values()}

    with connection.execute_wrapper(erased_once_read(world, ids)):
        answer = browser.post(address.path(world.objects), a_form(address.name, world))

    with scopes_disabled():
        is_there = Student.objects.filter(public_id=world.objects["student_id"]).exists()
        assert not is_there, address.name
        # No line comes after the erasing that would name the id again.
        assert not AuditLine.objects.filter(about=world.objects["student_id"]).exists()
    return answer.status_code


@pytest.fixture
def runa() -> User:
    return makers.a_teacher()


@pytest.mark.parametrize(
    ("seconds_ago", "in_this_studio", "code"),
    [(None, True, 500), (120, True, 500), (1, False, 500), (1, True, 404)],
)
def test_where_nobody_was_erased_just_now_a_fault_is_a_fault(
    runa, seconds_ago, in_this_studio, code, monkeypatch
):
    studio = makers.studio_of(runa)
    student = makers.a_student(studio)
    if seconds_ago is not None:
        at = timezone.now() - timedelta(seconds=seconds_ago)
        where = studio if in_this_studio else makers.a_studio()
        ErasedStudent.objects.create(student_hash="old", studio=where.public_id, at=at)

    def fails(*_args, **_kwargs):
        raise IndexError

    monkeypatch.setattr("studio.services.people.change_student", fails)
    desk = makers.signed_in(runa, raise_request_exception=False)

    assert desk.post(f"/students/{student.public_id}/parents-see").status_code == code


@pytest.mark.parametrize(("is_erased", "code"), [(True, 404), (False, 500)])
def test_a_parents_page_fails_as_one_that_is_not_there_only_where_the_child_is_erased(
    is_erased, code, monkeypatch
):
    child = makers.a_student(makers.a_studio())
    paired = makers.a_grant(child, kind=GrantKind.PARENT)
    parent = makers.a_phone(paired, raise_request_exception=False)

    def fails(_student):
        if is_erased:
            erase(child.public_id)
        raise IndexError

    monkeypatch.setattr("studio.views.parents.phones_of", fails)

    assert parent.get(f"/parent/{child.public_id}/phones").status_code == code


@pytest.mark.parametrize("error", [KeyError, ZeroDivisionError])
def test_what_cannot_come_of_it_is_a_fault_whoever_was_erased(error):
    with pytest.raises(error), erased_meanwhile.answered_as_later(lambda: True):
        raise error


def test_a_database_in_trouble_is_no_404():
    class FullError(DatabaseError):
        """What a database says of a full disk is of a kind of its own."""

    with pytest.raises(FullError), erased_meanwhile.answered_as_later(lambda: True):
        raise FullError
