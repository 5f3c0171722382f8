"""What is read about who teaches in a studio, and who teaches whom."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, Count, Prefetch, Q, QuerySet, When
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models import AuditLine, Grant, Invitation, Membership, Student, Studio
from studio.queries import in_use
from studio.record_words import sentence
from studio.words import ROLE_NAMES, AuditKind, Role

LINES_SHOWN = 20
SOMEBODY_GONE = _("somebody who is gone")
SOMEBODY = _("Somebody")  # a phone, the server, or a teacher who is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One line of the record, said with today's names in it."""

    moment: datetime
    words: str


def teachers_of(studio: Studio, day: date) -> QuerySet[Membership]:
    """List who teaches in a studio on a day, owners first, with the number of their students."""
    theirs = Q(user__student__studio=studio, user__student__archived_on__isnull=True)
    return (
        Membership.objects.filter(
            Q(ends_on__isnull=True) | Q(ends_on__gte=day), studio=studio, ended_at__isnull=True
        )
        .select_related("user", "studio")
        .annotate(students=Count("user__student", filter=theirs))
        .order_by(Case(When(role=Role.OWNER, then=0), default=1), "pk")
    )


def who_may_teach(studio: Studio, day: date) -> QuerySet[Membership]:
    """List the teachers that a student can be with; a cover teacher only reads."""
    return teachers_of(studio, day).exclude(role=Role.COVER)


def open_invitations(studio: Studio, moment: datetime) -> QuerySet[Invitation]:
    """List the invitations that could still be used, the newest first."""
    return (
        Invitation.objects.filter(studio=studio, used_at__isnull=True, expires_at__gt=moment)
        .select_related("made_by")
        .order_by("-made_at")
    )


def students_and_teachers(studio: Studio) -> QuerySet[Student]:
    """List the students of a studio with their teachers, by name."""
    return (
        Student.objects.filter(studio=studio, archived_on__isnull=True)
        .select_related("teacher")
        .order_by("name", "pk")
    )


def happenings(
    studio: Studio, *, kinds: Collection[AuditKind] = tuple(AuditKind), most: int = LINES_SHOWN
) -> list[Happening]:
    """Read the newest lines of the record, with the names of whom they are about.

    The record holds random ids. Whoever has been erased since is somebody who is gone, and what a
    phone or the server did, somebody did.
    """
    lines = list(
        AuditLine.objects.filter(studio=studio, kind__in=kinds)
        .select_related("by")
        .order_by("-moment", "-pk")[:most]
    )
    ids = {line.about for line in lines} | {line.to for line in lines}
    names: dict[str, str] = dict(
        Student.objects.filter(studio=studio, public_id__in=ids).values_list("public_id", "name")
    )
    names |= {
        place.public_id: str(place.user)
        for place in Membership.objects.filter(studio=studio, public_id__in=ids).select_related(
            "user"
        )
    }
    names |= {role.value: name.lower() for role, name in ROLE_NAMES.items()}
    return [
        Happening(
            moment=line.moment,
            words=sentence(
                AuditKind(line.kind),
                by=str(line.by or SOMEBODY),
                about=names.get(line.about, str(SOMEBODY_GONE)),
                to=names.get(line.to, str(SOMEBODY_GONE)) if line.to else "",
            ),
        )
        for line in lines
    ]


def phones_in_use(studio: Studio) -> QuerySet[Student]:
    """List the students who have phones in use, each with them as `phones`, the newest first."""
    living = Grant.objects.filter(in_use(timezone.now()))
    return (
        Student.objects.filter(
            studio=studio, archived_on__isnull=True, grant__in=living.values("pk")
        )
        .distinct()
        .order_by("name", "pk")
        .prefetch_related(
            Prefetch("grant_set", queryset=living.order_by("-made_at"), to_attr="phones")
        )
    )
