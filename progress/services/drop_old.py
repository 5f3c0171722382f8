"""What is older than a studio keeps it: check-ins become one line a month, the rest is deleted."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from statistics import fmean
from typing import Any

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q, QuerySet
from django_scopes import scope

from progress.engine.check_in import Discomfort as Hurt
from progress.models import RATINGS, CheckIn, KeptMonth, LessonRating, NotToday, Recording
from progress.queries.news import standing_check_ins
from routines.models import Block
from studio import limits
from studio.models import AuditLine, Discomfort, Interruption, Letter, Offer, Studio
from studio.services import letters
from studio.services.record import KEEP_DAYS, record
from studio.words import AuditKind

LINK_DAYS = 30
HURTS = frozenset({Hurt.MILD, Hurt.PAIN})


def drop_old(studio: Studio, *, moment: datetime, today: date) -> dict[str, int]:
    """Drop what one studio keeps no longer; say how many of what.

    `today` is the studio's practice day. Nothing is touched from the first day on of the oldest
    block that reaches into the kept months, so that no block is cut in the middle.
    """
    with transaction.atomic(), scope(studio=studio):
        before = _edge(_months_before(today, studio.keep_months))
        # A check-in that a teacher moved goes with the row it came from, else that would count.
        old = CheckIn.objects.filter(day__lt=before).exclude(moved_from__check_in__day__gte=before)
        counts = {"month summaries": _sum_up(old)}
        counts |= {name: _deleted(rows) for name, rows in _rows(old, before, moment)}
        if any(counts[name] for name in counts if name not in {"links", "letters"}):
            record(studio, AuditKind.DROPPED, by=None, moment=moment)
    return counts


def drop_sessions(*, moment: datetime) -> dict[str, int]:
    """Drop what belongs to no studio: ended sign-ins, and tries that have dripped away."""
    ended = Session.objects.filter(expire_date__lt=moment)
    keys = Session.objects.filter(expire_date__gte=moment).values("session_key")
    return {
        "sign-ins": _deleted(UserSession.objects.exclude(session_key__in=keys)) + _deleted(ended),
        "tries": limits.forget_old(moment=moment),
    }


def _edge(day: date) -> date:
    """Go back to the first day of the oldest block that is not over on a day."""
    begun = Block.objects.filter(first_day__lt=day)
    return min((block.first_day for block in begun if block.last_day >= day), default=day)


def _months_before(day: date, months: int) -> date:
    """Give the first day of the month that lies so many months before a day's own."""
    number = day.year * 12 + day.month - 1 - months
    return date(number // 12, number % 12 + 1, 1)


def _rows(
    old: QuerySet[CheckIn], before: date, moment: datetime
) -> Iterable[tuple[str, QuerySet[Any]]]:
    closed = Q(closed_at__isnull=False, day__lt=before)
    unused = Q(expires_at__lt=moment - timedelta(days=LINK_DAYS))
    yield "check-ins", old
    yield "days off", NotToday.objects.filter(day__lt=before)
    yield "what hurt", Discomfort.objects.filter(closed)
    yield "pauses", Interruption.objects.filter(last_day__lt=before)
    yield "lesson ratings", LessonRating.objects.filter(day__lt=before)
    yield "recordings", Recording.objects.filter(day__lt=before)
    yield "links", Offer.objects.filter(unused)
    yield "letters", Letter.objects.filter(letters.too_old(moment))
    yield (
        "lines of the record",
        AuditLine.objects.filter(moment__lt=moment - timedelta(days=KEEP_DAYS)),
    )


def _deleted(rows: QuerySet[Any]) -> int:
    count = rows.count()
    rows.delete()
    return int(count)


def _sum_up(old: QuerySet[CheckIn]) -> int:
    """Write one row for each month of each student, of the latest answer of each day."""
    latest: dict[tuple[int, date], CheckIn] = {}
    for row in standing_check_ins().filter(pk__in=old.values("pk")).order_by("done_at", "pk"):
        latest[row.student_id, row.day] = row
    months: dict[tuple[int, date], list[CheckIn]] = defaultdict(list)
    for (student, day), row in latest.items():
        months[student, day.replace(day=1)].append(row)
    for (student, month), rows in months.items():
        _add(student, month, rows)
    return len(months)


def _add(student: int, month: date, rows: list[CheckIn]) -> None:
    """Write a month, or put more days to one that a longer block has left in part."""
    known = KeptMonth.objects.filter(student_id=student, month=month).first()
    before = known.days if known else 0
    kept = known or KeptMonth(student_id=student, month=month, days=0, hurt_days=0)
    for name in RATINGS:
        given = [value for row in rows if (value := getattr(row, name)) is not None]
        earlier = getattr(kept, name)
        parts = [(fmean(given), len(given))] if given else []
        parts += [(earlier, before)] if earlier is not None else []
        weight = sum(count for _, count in parts)
        mean = sum(value * count for value, count in parts) / weight if weight else None
        setattr(kept, name, mean)
    kept.days += len(rows)
    kept.hurt_days += sum(row.discomfort in HURTS for row in rows)
    notes = [note for row in rows if (note := row.high_note) is not None]
    notes += [kept.high_note] if kept.high_note is not None else []
    kept.high_note = max(notes, default=None)
    kept.save()
