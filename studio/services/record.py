"""The record of what was done with people, phones and data: written once, by ids, with no words."""

from datetime import datetime

from django.db import transaction

from studio.models import AuditLine, Student, Studio, User
from studio.services.locks import lock_students
from studio.words import AuditKind

KEEP_DAYS = 400


def record(
    studio: Studio,
    kind: AuditKind,
    *,
    by: User | None,
    moment: datetime,
    about: str = "",
    to: str = "",
) -> None:
    """Write one line. `about` and `to` are public ids, or a word of ours such as a role.

    `by` is None where no teacher did it: a phone, a timer, or a command on the server.
    """
    AuditLine.objects.create(studio=studio, moment=moment, by=by, kind=kind, about=about, to=to)


def record_about(student: Student, kind: AuditKind, *, by: User | None, moment: datetime) -> None:
    """Write one line about a student; Student.DoesNotExist for one who was erased meanwhile.

    The erasing takes the id out of every line there is, so no line may come after it.
    """
    with transaction.atomic():
        lock_students([student.pk])
        there = Student.objects.only("public_id", "studio").select_related("studio")
        found = there.get(pk=student.pk)
        record(found.studio, kind, by=by, moment=moment, about=found.public_id)
