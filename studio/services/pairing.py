"""Setting up a phone: an offer is handed out, used once, and becomes a grant."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.db import IntegrityError, transaction
from django_scopes import scopes_disabled

from studio import secrets
from studio.models import Grant, Offer, Student, User, new_public_id
from studio.queries import in_use, offers_to, refused_lately
from studio.services import typed_code
from studio.services.locks import lock_students
from studio.services.record import record
from studio.words import AuditKind, GrantKind, GrantState, OfferKind

LESSON_MINUTES = 10
GRANT_DAYS = 400  # browsers keep a cookie no longer
MOST_PHONES = 3  # of a student; and as many of the parents


class AlreadyMadeError(Exception):
    """An offer of this name was made before; its token was shown then and is not kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeOffer:
    """An offer, its token and its code to type, which are shown once and never stored."""

    offer: Offer
    token: str
    code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Redeemed:
    """A phone that was just set up, and the secret for its cookie."""

    grant: Grant
    secret: str


def make_offer(
    student: Student, *, kind: OfferKind, by: User | None, moment: datetime, name: str = ""
) -> MadeOffer:
    """Make a way to set up one phone; a new one ends the old ones.

    What is for parents and what is for the student's own phone leave each other alone.

    `name` is the public id that the offer is to have. A page that is loaded again asks with the
    same one, and gets AlreadyMadeError instead of a second offer that would end the first.
    """
    token = secrets.new_secret()
    code = typed_code.new_code() if kind is OfferKind.LESSON else ""
    # That takes a while, so it is done before anything is written and others have to wait.
    kept_of_code = typed_code.keep(code) if code else {}
    lasts = (
        timedelta(minutes=LESSON_MINUTES)
        if kind is OfferKind.LESSON
        else timedelta(hours=student.studio.link_hours)
    )
    older = offers_to(
        Offer.objects.filter(student=student, used_at__isnull=True, expires_at__gt=moment),
        parents=kind is OfferKind.PARENT,
    )
    try:
        with transaction.atomic():
            # Of two at the same moment the later one ends the earlier one.
            lock_students([student.pk])
            older.update(expires_at=moment)
            offer = Offer.objects.create(
                public_id=name or new_public_id(),
                student=student,
                kind=kind,
                token_hash=secrets.hashed(token),
                made_by=by,
                made_at=moment,
                expires_at=moment + lasts,
                **kept_of_code,
            )
            _record(student, AuditKind.LINK, by=by, moment=moment)
    except IntegrityError as error:
        if not Student.objects.filter(pk=student.pk).exists():
            raise
        raise AlreadyMadeError from error
    return MadeOffer(offer=offer, token=token, code=code)


def offer_of_code(code: str, *, moment: datetime) -> Offer | None:
    """Find the offer that a typed code opens; for how long and how often, see `typed_code.find`."""
    with scopes_disabled():
        return typed_code.find(code, moment=moment)


def redeem_offer(
    offer: Offer, *, label: str, moment: datetime, kind: GrantKind = GrantKind.STUDENT
) -> Redeemed | Literal["full"] | None:
    """Use an offer up that was found by its code, like `redeem` by its token."""
    return _redeem(offer.token_hash, label=label, moment=moment, kind=kind)


def redeem(
    token: str, *, label: str, moment: datetime, kind: GrantKind = GrantKind.STUDENT
) -> Redeemed | Literal["full"] | None:
    """Use a token up. Of two phones at the same moment one wins; the other gets None.

    Unknown, used and expired tokens are all None, and so is one that was made for another kind: a
    parent's link opens the page for parents and nothing else. "full" means that as many phones as
    allowed are in use; the token is not used up then.
    """
    return _redeem(secrets.hashed(token), label=label, moment=moment, kind=kind)


def _redeem(
    token_hash: str, *, label: str, moment: datetime, kind: GrantKind
) -> Redeemed | Literal["full"] | None:
    parents = kind is GrantKind.PARENT
    with scopes_disabled(), transaction.atomic():
        offer = (
            offers_to(Offer.objects.select_related("student__studio"), parents=parents)
            .filter(token_hash=token_hash, student__archived_on__isnull=True)
            .first()
        )
        if offer is None or not offer.student.may_use_a_phone:
            return None
        if offer.used_at is not None or offer.expires_at <= moment:
            return None
        # Whoever is taken off the lists meanwhile is set up no more, and no phone is too many.
        lock_students([offer.student_id])
        if _phones_in_use(offer.student, moment, parents=parents) >= MOST_PHONES:
            return "full"
        on_the_lists = Student.objects.filter(archived_on__isnull=True)
        taken = Offer.objects.filter(
            pk=offer.pk,
            used_at__isnull=True,
            expires_at__gt=moment,
            student__in=on_the_lists,
        ).update(used_at=moment)
        if taken != 1:
            return None
        _record(offer.student, AuditKind.SET_UP, by=None, moment=moment)
        return _grant(offer, label=label, moment=moment, kind=kind)


def confirm_phone(grant: Grant, *, moment: datetime, by: User | None = None) -> Grant:
    """Say that the phone is the student's; it may then see the month as well.

    One that is out by now, by its own doing or as its time was over, stays out, and what it filed
    stays.
    """
    with _alone_with(grant, moment):
        if grant.state == GrantState.PROVISIONAL:
            grant.ended_at = _out_since(grant, moment)
            grant.state = GrantState.ENDED if grant.ended_at else GrantState.CONFIRMED
            grant.confirmed_at = moment
            grant.save(update_fields=["state", "confirmed_at", "ended_at"])
            _record(grant.student, AuditKind.CONFIRMED, by=by, moment=moment)
    return grant


def refuse_phone(grant: Grant, *, moment: datetime, by: User | None = None) -> Grant:
    """Say that the phone is not the student's: it stops, and what it filed is set aside.

    One that has signed itself out before it was answered is refused all the same.
    """
    with _alone_with(grant, moment):
        if grant.ended_at is None or grant.state == GrantState.PROVISIONAL:
            # Since when it was out already is kept: to take this back opens nothing that was shut.
            grant.expires_at = _out_since(grant, moment) or grant.expires_at
            _end(grant, GrantState.REFUSED, moment, by=by)
    return grant


def take_back_refusal(grant: Grant, *, moment: datetime, by: User | None = None) -> bool:
    """Let a phone that was refused by mistake go on as before; what it filed counts again.

    One that was out before it was refused, or whose time is over by now, stays out and is asked
    about again. Returns False, and changes nothing, ten minutes after the refusal, for a student
    who is off the lists, or where as many phones as allowed are in use by now.
    """
    student = grant.student
    with _alone_with(grant, moment):
        on_the_lists = Student.objects.filter(archived_on__isnull=True)
        lately = refused_lately(student, moment).filter(pk=grant.pk, student__in=on_the_lists)
        out_since = grant.expires_at if grant.expires_at <= moment else None
        if not out_since and _phones_in_use(student, moment) >= MOST_PHONES:
            return False
        state = GrantState.PROVISIONAL if grant.confirmed_at is None else GrantState.CONFIRMED
        if lately.update(state=state, ended_at=out_since) != 1:
            return False
        grant.state, grant.ended_at = state, out_since
        _record(student, AuditKind.TAKEN_BACK, by=by, moment=moment)
    return True


def sign_out_phone(
    grant: Grant, *, moment: datetime, by: User | None = None, among_all: bool = False
) -> Grant:
    """Shut a phone out at its next request; what it filed stays.

    Without a teacher's word about this very phone the question whose it was stays open: it may have
    been a stranger's, who sent something and left, or who was shut out with all others.
    """
    with _alone_with(grant, moment):
        is_asked = grant.state == GrantState.PROVISIONAL and grant.kind != GrantKind.PARENT
        if grant.ended_at is None:
            stays_asked = is_asked and (by is None or among_all)
            _end(grant, GrantState.PROVISIONAL if stays_asked else GrantState.ENDED, moment, by=by)
    return grant


def end_all(student: Student, *, moment: datetime) -> None:
    """Shut all of a student's phones and the parents' out, and end the links not used yet.

    Whose a phone was that nobody has answered about stays asked.
    """
    living = Grant.objects.filter(student=student, ended_at__isnull=True)
    asked = living.filter(state=GrantState.PROVISIONAL).exclude(kind=GrantKind.PARENT)
    asked.update(ended_at=moment)
    living.update(state=GrantState.ENDED, ended_at=moment)
    Offer.objects.filter(student=student, used_at__isnull=True, expires_at__gt=moment).update(
        expires_at=moment
    )


def _phones_in_use(student: Student, moment: datetime, *, parents: bool = False) -> int:
    living = Grant.objects.filter(in_use(moment), student=student)
    if parents:
        return int(living.filter(kind=GrantKind.PARENT).count())
    return int(living.exclude(kind=GrantKind.PARENT).count())


def _grant(offer: Offer, *, label: str, moment: datetime, kind: GrantKind) -> Redeemed:
    secret = secrets.new_secret()
    beside_the_teacher = offer.kind == OfferKind.LESSON
    grant = Grant.objects.create(
        student=offer.student,
        offer=offer,
        kind=kind,
        state=GrantState.CONFIRMED if beside_the_teacher else GrantState.PROVISIONAL,
        secret_hash=secrets.hashed(secret),
        label=label,
        made_at=moment,
        confirmed_at=moment if beside_the_teacher else None,
        secret_is_new=beside_the_teacher,
        expires_at=moment
        + (timedelta(hours=2) if kind is GrantKind.ONCE else timedelta(days=GRANT_DAYS)),
    )
    return Redeemed(grant=grant, secret=secret)


@contextmanager
def _alone_with(grant: Grant, moment: datetime) -> Iterator[None]:
    """Look at a phone as it is by now, and let nobody change it meanwhile.

    What was refused stays refused, whatever a stale page asks later; a phone whose student was
    erased meanwhile is over, and nothing is written of it.
    """
    with scopes_disabled(), transaction.atomic():
        lock_students([grant.student_id])
        try:
            grant.refresh_from_db(fields=["state", "confirmed_at", "ended_at", "expires_at"])
        except Grant.DoesNotExist:
            grant.state, grant.ended_at = GrantState.ENDED, moment
        yield


def _out_since(grant: Grant, moment: datetime) -> datetime | None:
    """Say since when a phone is out, by its own doing or as its time was over; None where not."""
    return grant.ended_at or (grant.expires_at if grant.expires_at <= moment else None)


def _end(grant: Grant, state: GrantState, moment: datetime, *, by: User | None) -> None:
    grant.state = state
    grant.ended_at = moment
    grant.save(update_fields=["state", "ended_at", "expires_at"])
    kind = AuditKind.REFUSED if state is GrantState.REFUSED else AuditKind.SIGNED_OUT
    _record(grant.student, kind, by=by, moment=moment)


def _record(student: Student, kind: AuditKind, *, by: User | None, moment: datetime) -> None:
    record(student.studio, kind, by=by, moment=moment, about=student.public_id)
