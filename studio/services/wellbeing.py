"""Writes about what keeps a student from playing: discomforts and interruptions."""

from datetime import date, datetime
from uuid import UUID

from studio.models import Discomfort, Interruption, Student, User
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
    """Keep that something hurt. Told twice with the same key it is one discomfort."""
    discomfort, _ = Discomfort.objects.get_or_create(
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
    return told


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
