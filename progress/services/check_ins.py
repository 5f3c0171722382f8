"""Writes about what students report."""

from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from progress.engine.check_in import Discomfort, NoSession, Source
from progress.models import CheckIn, NotToday, SetAside
from progress.queries.fix_day import days_to_move, set_aside_of
from progress.queries.news import standing_not_todays
from routines.models import BlockVersion
from routines.queries import is_still_played, played_on
from studio.models import Grant, User, new_public_id
from studio.services import wellbeing
from studio.services.locks import lock_students
from studio.words import GrantState, HowMuch, InterruptionKind, Place, day_in_words


class CheckInError(ValueError):
    """A check-in that cannot be kept as it came; the message says what to do."""


def file_check_in(
    grant: Grant,
    *,
    key: UUID,
    day: date,
    done_at: datetime,
    moment: datetime,
    asked: BlockVersion | None = None,
    **answers: Any,
) -> CheckIn:
    """Keep a check-in, and open a discomfort if something hurt.

    The same key with the same answers is the same row, however often it comes; the same key with
    other answers raises CheckInError. Another key for the day is a revision, and both are kept.
    Whoever has read what the day asks gives it as `asked`; what has changed since is read anew.
    """
    student, answered = grant.student, {"day": day, **answers}
    # An error is raised after it: whoever has begun the transaction keeps what else is in it.
    with transaction.atomic(savepoint=False):
        # What is asked of the day must not be changed while it is written down.
        lock_students([student.pk])
        is_fresh = asked is not None and is_still_played(asked, day)
        version = asked if is_fresh else played_on(student, day)
        row = CheckIn(
            student=student,
            key=key,
            grant=grant,
            source=Source.PHONE,
            received_at=moment,
            version=version,
            block=version.block if version else None,
            done_at=done_at,
            **answered,
        )
        # A repeat must find its row whatever has become of the block since.
        check_in = _write_once(row) if version else _of_this_key(row)
        if check_in is row:
            row.is_new = True
            tell_if_it_hurt(row)
    if check_in is None:
        message = _("There is no block on %(day)s: choose another day.") % {
            "day": date_format(day, "l d F")
        }
        raise CheckInError(message)
    if any(getattr(check_in, name) != answered[name] for name in answered):
        message = _("You saved %(day)s already with other answers.") % {
            "day": date_format(check_in.day, "l")
        }
        raise CheckInError(message)
    saved: CheckIn = check_in
    return saved


def _write_once(row: CheckIn) -> CheckIn:
    """Write a row, or find the one that has its key: almost all are new, so none is looked for."""
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        if (before := _of_this_key(row)) is None:
            raise
        return before
    return row


def _of_this_key(row: CheckIn) -> CheckIn | None:
    found: CheckIn | None = CheckIn.objects.filter(student=row.student, key=row.key).first()
    return found


def tell_if_it_hurt(check_in: CheckIn) -> None:
    """Open a discomfort under the check-in's own key, so that it is told once."""
    if check_in.discomfort in {Discomfort.MILD, Discomfort.PAIN}:
        wellbeing.open_discomfort(
            check_in.student,
            key=check_in.key,
            day=check_in.day,
            moment=check_in.received_at,
            place=Place(check_in.place) if check_in.place else None,
            how_much=HowMuch(check_in.discomfort),
        )


def move_check_in(check_in: CheckIn, *, day: date, today: date, by: User, moment: datetime) -> None:
    """Put a check-in that was filed for the wrong day on another, as the teacher's copy.

    The row that was filed stays as it came, set aside. A copy is never moved on: what was filed is
    put on the new day instead. A day that cannot be raises CheckInError. What hurt stays where it
    was told, open until a teacher closes it.
    """
    with transaction.atomic():
        lock_students([check_in.student_id])
        filed = put_back_check_in(check_in)
        if day == filed.day:
            return
        version = played_on(filed.student, day)
        if version is None or day not in days_to_move(filed, today):
            message = _(
                "%(name)s’s check-in cannot go to %(day)s: choose one of the days on the page."
            ) % {"name": filed.student.name, "day": day_in_words(day)}
            raise CheckInError(message)
        copy: CheckIn = CheckIn.objects.get(pk=filed.pk)
        copy.pk, copy.public_id, copy.key = None, new_public_id(), uuid4()
        copy._state.adding = True  # noqa: SLF001 - Django's own way to copy a row
        copy.day, copy.block, copy.version = day, version.block, version
        copy.source = Source.TEACHER
        copy.save()
        SetAside.objects.create(check_in=filed, moved_to=copy, by=by, made_at=moment)


def remove_check_in(check_in: CheckIn, *, by: User, moment: datetime) -> None:
    """Take a check-in out of its day; what was typed stays, set aside, and can be put back."""
    with transaction.atomic():
        lock_students([check_in.student_id])
        filed = put_back_check_in(check_in)
        SetAside.objects.create(check_in=filed, by=by, made_at=moment)


def put_back_check_in(check_in: CheckIn) -> CheckIn:
    """Let a check-in count for the day it was filed for again, and hand that row back."""
    with transaction.atomic():
        lock_students([check_in.student_id])
        aside = set_aside_of(check_in)
        if aside is None:
            return check_in
        filed: CheckIn = aside.check_in
        if aside.moved_to is not None:
            aside.moved_to.delete()
        SetAside.objects.filter(check_in=filed).delete()
    filed.refresh_from_db()
    return filed


def tell_not_today(grant: Grant, *, day: date, reason: NoSession, moment: datetime) -> NotToday:
    """Keep why there is no session on a day; told again, the newer reason stands.

    `moment` is when it was told: one that waited on a phone does not push a newer one aside, nor
    does a phone that nobody has confirmed what another one told. Ill and away open an interruption
    for the teacher to confirm.
    """
    kinds = {NoSession.ILL: InterruptionKind.ILL, NoSession.AWAY: InterruptionKind.AWAY}
    with transaction.atomic():
        stands = standing_not_todays().filter(student=grant.student, day=day)
        if grant.state == GrantState.PROVISIONAL:
            stands = stands.filter(Q(told_at__gt=moment) | ~Q(grant=grant) | Q(grant=None))
        else:
            stands = stands.filter(told_at__gt=moment)
        if (first := stands.first()) is not None:
            kept: NotToday = first
            return kept
        wellbeing.take_back_interruption(grant.student, day=day)
        row, _ = NotToday.objects.update_or_create(
            student=grant.student,
            day=day,
            defaults={"reason": reason, "told_at": moment, "grant": grant},
        )
        if reason in kinds:
            wellbeing.tell_interruption(grant.student, kind=kinds[reason], day=day)
    told: NotToday = row
    return told


def take_back_not_today(grant: Grant, *, day: date) -> None:
    """Forget that there is no session on a day, and what the teacher has not confirmed of it.

    A phone that nobody has confirmed forgets what it told itself, and nothing else.
    """
    with transaction.atomic():
        told = NotToday.objects.filter(student=grant.student, day=day)
        if grant.state == GrantState.PROVISIONAL:
            told = told.filter(grant=grant)
        gone, _ = told.delete()
        if gone or grant.state != GrantState.PROVISIONAL:
            wellbeing.take_back_interruption(grant.student, day=day)
