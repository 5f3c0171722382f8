"""The ways into the demo: the teacher's password, and a fresh pairing token for each student."""

from datetime import datetime

from django.contrib.auth.hashers import check_password
from django.urls import reverse
from django_scopes import scope

from progress.demo.filling import Demo
from progress.demo.people import SHOWN_FIRST, TEACHER
from studio.models import Student
from studio.services import pairing
from studio.words import OfferKind


def password(demo: Demo) -> str | None:
    """Give the teacher's password, or None if it was changed since: it is never put back."""
    known = TEACHER["password"]
    return known if check_password(known, demo.teacher.password) else None


def students(demo: Demo) -> list[Student]:
    """List the students who are on the lists, in the order in which they came."""
    with scope(studio=demo.studio):
        rows = Student.objects.filter(archived_on__isnull=True).select_related("studio")
        return list(rows.order_by("pk"))


def shown_first(demo: Demo) -> Student | None:
    """Choose the student whose phone is tried first: the scenario's, else the first who may."""
    may = [student for student in students(demo) if student.may_use_a_phone]
    named = [student for student in may if student.name == SHOWN_FIRST]
    return next(iter(named or may), None)


def fresh_path(demo: Demo, student: Student, *, moment: datetime) -> str | None:
    """Make a new way to set up one phone; None where none may be set up: a child without a yes."""
    if not student.may_use_a_phone:
        return None
    with scope(studio=demo.studio):
        made = pairing.make_offer(student, kind=OfferKind.SENT, by=demo.teacher, moment=moment)
    return f"{reverse('studio:pair')}#{made.token}"
