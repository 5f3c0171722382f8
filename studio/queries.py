"""What is read about people and phones."""

from collections.abc import Iterable

from django.db.models import QuerySet
from django.utils import timezone

from studio.models import Discomfort, Grant, Interruption, Offer, Student
from studio.words import PAUSES, GrantState


def hurting(students: Iterable[Student]) -> list[Student]:
    """Name the students with a discomfort that no teacher has closed, in the given order."""
    students = list(students)
    hurt = set(
        Discomfort.objects.filter(
            closed_at__isnull=True, student_id__in=[student.pk for student in students]
        ).values_list("student_id", flat=True)
    )
    return [student for student in students if student.pk in hurt]


def pausing(interruptions: Iterable[Interruption]) -> list[Interruption]:
    """Choose the confirmed ones in which a student cannot play at all, in the given order."""
    return [row for row in interruptions if row.kind in PAUSES and row.confirmed_at is not None]


def phones_of(student: Student) -> QuerySet[Grant]:
    """List a student's phones that are not ended, the newest first."""
    return (
        Grant.objects.filter(student=student, ended_at__isnull=True, expires_at__gt=timezone.now())
        .select_related("student")
        .order_by("-made_at")
    )


def phones_to_confirm(students: QuerySet[Student]) -> QuerySet[Grant]:
    """List the phones of these students that wait for the teacher's yes, oldest first."""
    return (
        Grant.objects.filter(
            student__in=students,
            state=GrantState.PROVISIONAL,
            ended_at__isnull=True,
            expires_at__gt=timezone.now(),
        )
        .select_related("student")
        .order_by("made_at")
    )


def waiting_offer(student: Student) -> Offer | None:
    """Find the offer that could still be used, if there is one."""
    offer: Offer | None = (
        Offer.objects.filter(student=student, used_at__isnull=True, expires_at__gt=timezone.now())
        .order_by("-made_at")
        .first()
    )
    return offer
