"""What is read about people and phones."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import CharField, DateField, DateTimeField, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from studio.models import Discomfort, Grant, Interruption, Offer, Student
from studio.prepared import Prepared
from studio.words import PAUSES, WEEKDAYS, GrantKind, GrantState, OfferKind

REFUSAL_UNDO_TIME = timedelta(minutes=10)
MOST_GRANTS_ON_A_PHONE = 4
IDLE_DAYS = 200  # a summer passes, a forgotten phone does not stay open for ever


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


def told_apart(students: Iterable[Student], *, by_name_alone: bool = False) -> dict[int, str]:
    """Say what tells students of one name and one instrument apart, by their number in the table.

    It is the group, or the lesson day, or both, whichever is the first to differ for all of them.
    Whoever is alone, or has nothing to be told apart by, is not in the answer. A page that does not
    show the instruments asks `by_name_alone`.
    """
    alike: dict[tuple[str, str], list[Student]] = defaultdict(list)
    for student in students:
        instrument = "" if by_name_alone else student.instrument
        alike[student.name.strip().casefold(), instrument].append(student)
    found: dict[int, str] = {}
    for twins in alike.values():
        if len(twins) > 1:
            found |= {student.pk: words for student, words in _apart(twins) if words}
    return found


def _apart(twins: Sequence[Student]) -> list[tuple[Student, str]]:
    groups = [student.group.strip() for student in twins]
    days = [
        ""
        if student.lesson_day is None
        else _("lesson on %(day)s") % {"day": WEEKDAYS[student.lesson_day]}
        for student in twins
    ]
    both = [", ".join(filter(None, pair)) for pair in zip(groups, days, strict=True)]
    for words in (groups, days, both):
        if len(set(words)) == len(twins):
            return list(zip(twins, words, strict=True))
    return list(zip(twins, both, strict=True)) if len(set(both)) > 1 else []


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """Who reads a student's page for parents: their phones, and the link that waits, if any."""

    phones: Sequence[Grant]
    offer: Offer | None


def in_use(moment: datetime) -> Q:
    """Say of grants which still open something: not ended, not expired, not long unused."""
    return in_use_at(**times_of_use(moment))


def times_of_use(moment: datetime) -> dict[str, Any]:
    """Give what `in_use_at` takes: the moment, and since when and which day a phone was used."""
    since = moment - timedelta(days=IDLE_DAYS)
    return {"moment": moment, "since": since, "since_day": since.date()}


def in_use_at(*, moment: Any, since: Any, since_day: Any) -> Q:
    """Say the same as `in_use` of times that are worked out already, or of places for them."""
    used = Q(last_day__gte=since_day) | Q(last_day__isnull=True, made_at__gte=since)
    return Q(ended_at__isnull=True, expires_at__gt=moment) & used


def _held_by(which: Q) -> Prepared[Grant]:
    def asked(*, moment: Any, since: Any, since_day: Any, **ids: Any) -> QuerySet[Grant]:
        rows: QuerySet[Grant] = Grant.objects.filter(
            which,
            in_use_at(moment=moment, since=since, since_day=since_day),
            public_id__in=list(ids.values()),
            student__archived_on__isnull=True,
        )
        return rows.select_related("student__studio").order_by("student__name", "pk")

    times = {"moment": DateTimeField(), "since": DateTimeField(), "since_day": DateField()}
    return Prepared(asked, **times, **{name: CharField() for name in _ID_PLACES})


_ID_PLACES = [f"id_{number}" for number in range(MOST_GRANTS_ON_A_PHONE)]
_BY_STUDENTS = _held_by(~Q(kind=GrantKind.PARENT))
_BY_PARENTS = _held_by(Q(kind=GrantKind.PARENT))


def grants_held(ids: Sequence[str], moment: datetime, *, parents: bool) -> list[Grant]:
    """List the grants of one to four public ids that are in use, with their students and studios.

    A student who has left opens nothing. They come in the order of the students' names.
    """
    # It is one question for any number: the first stands in the places that are left as well.
    filled = [*ids, *[ids[0]] * (len(_ID_PLACES) - len(ids))]
    places = dict(zip(_ID_PLACES, filled, strict=True))
    asked = _BY_PARENTS if parents else _BY_STUDENTS
    return asked.rows(**times_of_use(moment), **places)


def phones_of(student: Student) -> QuerySet[Grant]:
    """List a student's phones that are not ended, the newest first; parents' are not among them."""
    return _living_grants(student).exclude(kind=GrantKind.PARENT)


def parents_of(student: Student) -> QuerySet[Grant]:
    """List the parents' phones of a student that are not ended, the newest first."""
    return _living_grants(student).filter(kind=GrantKind.PARENT)


def family_of(student: Student) -> Family:
    """Find who may read the page for parents."""
    return Family(phones=list(parents_of(student)), offer=waiting_offer(student, for_parents=True))


def _living_grants(student: Student) -> QuerySet[Grant]:
    return (
        Grant.objects.filter(in_use(timezone.now()), student=student)
        .select_related("student")
        .order_by("-made_at")
    )


def left_unanswered(student: Student) -> QuerySet[Grant]:
    """List the phones that were out before the teacher said whose they were, the newest first."""
    return (
        Grant.objects.filter(
            _out_and_used(timezone.now()), student=student, state=GrantState.PROVISIONAL
        )
        .select_related("student")
        .order_by("-made_at")
    )


def _out_and_used(moment: datetime) -> Q:
    """Say of phones which have signed themselves out, or were used until their time was over.

    A parent's is none of them: it files nothing.
    """
    is_out = Q(ended_at__isnull=False) | Q(expires_at__lte=moment, last_day__isnull=False)
    return is_out & ~Q(kind=GrantKind.PARENT)


def refused_lately(student: Student, moment: datetime) -> QuerySet[Grant]:
    """List the phones whose refusal can still be taken back, the last one refused first."""
    return (
        Grant.objects.filter(
            student=student,
            state=GrantState.REFUSED,
            ended_at__gt=moment - REFUSAL_UNDO_TIME,
        )
        .exclude(kind=GrantKind.PARENT)
        .select_related("student")
        .order_by("-ended_at")
    )


def phones_to_confirm(students: QuerySet[Student]) -> QuerySet[Grant]:
    """List the phones of these students and of their parents that wait for a yes, oldest first.

    A phone that is out by now waits as well: what it filed counts.
    """
    moment = timezone.now()
    return (
        Grant.objects.filter(
            in_use(moment) | _out_and_used(moment),
            student__in=students,
            state=GrantState.PROVISIONAL,
        )
        .select_related("student")
        .order_by("made_at")
    )


def waiting_offer(student: Student, *, for_parents: bool = False) -> Offer | None:
    """Find the offer to the student, or to the parents, that could still be used, if any."""
    waiting = Offer.objects.filter(
        student=student, used_at__isnull=True, expires_at__gt=timezone.now()
    )
    offer: Offer | None = offers_to(waiting, parents=for_parents).order_by("-made_at").first()
    return offer


def offers_to(rows: QuerySet[Offer], *, parents: bool) -> QuerySet[Offer]:
    """Keep the offers that are for parents, or those that are for the student."""
    if parents:
        return rows.filter(kind=OfferKind.PARENT)
    return rows.exclude(kind=OfferKind.PARENT)
