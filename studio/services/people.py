"""Writes about studios and students."""

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from studio import expected, secrets
from studio.models import Letter, Membership, SetupToken, Student, Studio, User
from studio.services import standing
from studio.services.pairing import end_all
from studio.services.record import record
from studio.words import AuditKind, Role

# Of what is changed about a student, this stands in the record.
RECORDED = {
    AuditKind.CONSENT: {"consent_on", "consent_how", "child"},
    AuditKind.PARENTS_SEE: {"parents_see_hurts"},
}

MOST_STUDENTS = 500


class StudioIsFullError(Exception):
    """A studio has as many students as it may, those off the lists included."""

    def __init__(self, here: int, more: int) -> None:
        super().__init__(
            _(
                "Not added: %(more)d. The studio has %(here)d students, those off the lists "
                "included, and %(most)d is the most. Erase whom you need no more."
            )
            % {"here": here, "more": more, "most": MOST_STUDENTS}
        )


def new_setup_token() -> str | None:
    """Make a first-run token, or None where somebody can already sign in."""
    if User.objects.exists():
        return None
    token = secrets.new_secret()
    SetupToken.objects.all().delete()
    SetupToken.objects.create(token_hash=secrets.hashed(token))
    return token


def set_up_studio(
    *, token: str, moment: datetime, studio: dict[str, Any], teacher: dict[str, Any]
) -> User | None:
    """Make the studio and its first teacher; None if the token is wrong or has been used."""
    owner = User.objects.unsaved(**teacher)
    with transaction.atomic():
        used = SetupToken.objects.filter(
            token_hash=secrets.hashed(token), used_at__isnull=True
        ).update(used_at=moment)
        if used != 1 or User.objects.exists():
            return None
        # From now on an empty database in this place is a mistake, and no new beginning.
        transaction.on_commit(lambda: expected.write(standing.note()), robust=True)
        return _write_studio(studio, owner)


def make_studio(*, studio: dict[str, Any], teacher: dict[str, Any]) -> User:
    """Make a studio with one teacher, who owns it."""
    return _write_studio(studio, User.objects.unsaved(**teacher))


def _write_studio(studio: dict[str, Any], owner: User) -> User:
    with transaction.atomic():
        made = Studio.objects.create(**studio)
        owner.save()
        Membership.objects.create(studio=made, user=owner, role=Role.OWNER)
    return owner


def change_studio(studio: Studio, *, by: User | None = None, **fields: Any) -> Studio:
    """Write the studio's settings; stored days never move with the zone."""
    for name, value in fields.items():
        setattr(studio, name, value)
    with transaction.atomic():
        studio.save(update_fields=list(fields))
        record(studio, AuditKind.SETTINGS, by=by, moment=timezone.now())
    return studio


def check_room(studio: Studio, *, more: int) -> None:
    """Raise StudioIsFullError where a studio may not have so many students more."""
    here = Student.objects.filter(studio=studio).count()
    if here + more > MOST_STUDENTS:
        raise StudioIsFullError(here, more)


def add_student(studio: Studio, **fields: Any) -> Student:
    """Add a student to a studio; StudioIsFullError where it has as many as it may."""
    check_room(studio, more=1)
    student: Student = Student.objects.create(studio=studio, **fields)
    return student


def change_student(student: Student, *, by: User | None = None, **fields: Any) -> Student:
    """Write a student's fields; blocks keep the instrument they were made for."""
    changed = {name for name, value in fields.items() if getattr(student, name) != value}
    for name, value in fields.items():
        setattr(student, name, value)
    with transaction.atomic():
        student.save(update_fields=list(fields))
        for kind, names in RECORDED.items():
            if changed & names:
                moment, about = timezone.now(), student.public_id
                record(student.studio, kind, by=by, moment=moment, about=about)
    return student


def archive_student(
    student: Student, *, day: date, moment: datetime, by: User | None = None
) -> Student:
    """Take a student off the lists; the phones stop at once, the history stays."""
    with transaction.atomic():
        student.archived_on = day
        student.save(update_fields=["archived_on"])
        end_all(student, moment=moment)
        about = student.public_id
        record(student.studio, AuditKind.OFF_THE_LISTS, by=by, moment=moment, about=about)
    return student


def bring_back_student(student: Student, *, moment: datetime, by: User | None = None) -> Student:
    """Put an archived student back on the lists."""
    with transaction.atomic():
        student.archived_on = None
        student.save(update_fields=["archived_on"])
        record(student.studio, AuditKind.BACK, by=by, moment=moment, about=student.public_id)
    return student


def change_look(user: User, *, look: str) -> User:
    """Write which look a teacher has chosen; empty is that of the device."""
    user.look = look
    user.save(update_fields=["look"])
    return user


def choose_letters(place: Membership, *, letters_on_mondays: bool, letters_at_once: bool) -> None:
    """Say which letters a teacher gets from this studio."""
    place.letters_on_mondays, place.letters_at_once = letters_on_mondays, letters_at_once
    place.save(update_fields=["letters_on_mondays", "letters_at_once"])


def stop_letters(kind: str, public_id: str) -> None:
    """Stop a parent's reminders or a teacher's Monday letter; what waits of them goes as well."""
    with scopes_disabled(), transaction.atomic():
        if kind == "student":
            Student.objects.filter(public_id=public_id).update(remind_parent=False)
            Letter.objects.filter(key__startswith=f"reminder {public_id} ", sent_at=None).delete()
        else:
            Membership.objects.filter(public_id=public_id).update(letters_on_mondays=False)
            Letter.objects.filter(key__startswith=f"monday {public_id} ", sent_at=None).delete()
