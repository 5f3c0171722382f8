"""Writes about what keeps a student from playing: discomforts and interruptions."""

from datetime import date, datetime
from uuid import UUID

from studio.models import Discomfort, Interruption, Student, User
from studio.services import letters
from studio.words import HowMuch, InterruptionKind, Place


def open_discomfort(  # noqa: PLR0913 - what is told, in full
    student: Student,
    *,
    key: UUID,
    day: date,
    moment: datetime,
    place: Place | None = None,
    how_much: HowMuch | None = None,
    step: int | None = None,
) -> Discomfort:
    """Keep that something hurt. Told twice with the same key it is one discomfort.

    What was told in a session without a place is the same discomfort when the check-in of that
    day says where and how much.
    """
    if how_much is not None and (earlier := _told_in_session(student, day)):
        earlier.place, earlier.how_much = place or "", how_much
        earlier.save(update_fields=["place", "how_much"])
        return earlier
    discomfort, is_new = Discomfort.objects.get_or_create(
        student=student,
        key=key,
        defaults={
            "day": day,
            "told_at": moment,
            "place": place or "",
            "how_much": how_much or "",
            "in_session": step is not None,
            "step": step,
        },
    )
    told: Discomfort = discomfort
    if is_new:
        letters.tell_of_hurt(told, moment=moment)
    return told


def _told_in_session(student: Student, day: date) -> Discomfort | None:
    """Find what was told in a session of the day and still lacks how much it hurt."""
    return Discomfort.objects.filter(
        student=student, day=day, in_session=True, how_much="", closed_at__isnull=True
    ).first()


def close_discomfort(
    discomfort: Discomfort, *, by: User, moment: datetime, spoken_with_family: bool
) -> Discomfort:
    """Close a discomfort, which only a teacher does; closing it twice keeps the first."""
    if discomfort.closed_at is None:
        discomfort.closed_at = moment
        discomfort.closed_by = by
        discomfort.spoken_with_family = spoken_with_family
        discomfort.save(update_fields=["closed_at", "closed_by", "spoken_with_family"])
    return discomfort


def take_back_interruption(student: Student, *, day: date) -> None:
    """Forget what a student told of a day and no teacher has confirmed yet."""
    Interruption.objects.filter(
        student=student, first_day=day, told_by_student=True, confirmed_at__isnull=True
    ).delete()


def add_interruption(
    student: Student,
    *,
    kind: InterruptionKind,
    first_day: date,
    last_day: date | None,
    note: str,
    moment: datetime,
) -> Interruption:
    """Write down what a teacher knows of: confirmed from the start; sent twice it is one."""
    interruption, _ = Interruption.objects.get_or_create(
        student=student,
        kind=kind,
        first_day=first_day,
        last_day=last_day,
        note=note,
        confirmed_at__isnull=False,
        defaults={"confirmed_at": moment},
    )
    written: Interruption = interruption
    return written


def confirm_interruption(interruption: Interruption, *, moment: datetime) -> Interruption:
    """Say that what the student told is so."""
    if interruption.confirmed_at is None:
        interruption.confirmed_at = moment
        interruption.save(update_fields=["confirmed_at"])
    return interruption


def end_interruption(
    interruption: Interruption, *, last_day: date, moment: datetime
) -> Interruption:
    """Say that it is over; it counts up to its last day, and is confirmed by that."""
    interruption.last_day = max(last_day, interruption.first_day)
    interruption.confirmed_at = interruption.confirmed_at or moment
    interruption.save(update_fields=["last_day", "confirmed_at"])
    return interruption


def call_off_interruption(interruption: Interruption) -> None:
    """Forget one that was planned and does not come about."""
    interruption.delete()


def tell_interruption(student: Student, *, kind: InterruptionKind, day: date) -> Interruption:
    """Keep that a student is away or ill, for the teacher to confirm; an open one is reused."""
    interruption, _ = Interruption.objects.get_or_create(
        student=student,
        kind=kind,
        last_day=None,
        confirmed_at=None,
        defaults={"first_day": day, "told_by_student": True},
    )
    told: Interruption = interruption
    return told
