"""Writes about who teaches in a studio, and who teaches whom. Each leaves a line in the record."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django_scopes import scopes_disabled

from studio import secrets
from studio.models import Invitation, Membership, Student, Studio, User
from studio.services import letters
from studio.services.record import record
from studio.words import AuditKind, Role

INVITATION_HOURS = 72


class LastOwnerError(Exception):
    """A studio would be left without an owner, so nothing was changed."""


class AlreadyThereError(Exception):
    """The person teaches in this studio now; the invitation is not used up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeInvitation:
    """An invitation and its token, which is shown once and never stored."""

    invitation: Invitation
    token: str


def invite_teacher(
    by: Membership, *, role: Role, ends_on: date | None, email: str, moment: datetime
) -> MadeInvitation:
    """Make a link by which one person joins; with an e-mail, only an account of that e-mail."""
    token = secrets.new_secret()
    with transaction.atomic():
        invitation = Invitation.objects.create(
            studio=by.studio,
            role=role,
            ends_on=ends_on if role is Role.COVER else None,
            email=email.lower(),
            token_hash=secrets.hashed(token),
            made_by=by.user,
            made_at=moment,
            expires_at=moment + timedelta(hours=INVITATION_HOURS),
        )
        _record(by, AuditKind.INVITED, moment, about=invitation.public_id, to=role)
    return MadeInvitation(invitation=invitation, token=token)


def call_off_invitation(invitation: Invitation, *, by: Membership, moment: datetime) -> None:
    """End an invitation that nobody has used; a used or old one stays as it is."""
    with transaction.atomic():
        ended = Invitation.objects.filter(
            pk=invitation.pk, used_at__isnull=True, expires_at__gt=moment
        ).update(expires_at=moment)
        if ended:
            _record(by, AuditKind.CALLED_OFF, moment, about=invitation.public_id)


def find_invitation(token: str, *, moment: datetime) -> Invitation | None:
    """Look an open invitation up by its token, and use nothing up."""
    return _open(moment, token_hash=secrets.hashed(token))


def open_invitation(public_id: str, *, moment: datetime) -> Invitation | None:
    """Find an invitation again that was found by its token before, if it is still open."""
    return _open(moment, public_id=public_id)


def join_studio(invitation: Invitation, *, user: User, moment: datetime) -> Membership | None:
    """Use an invitation up; of two people at once one wins, the other gets None.

    Who taught here before comes back to the same place. AlreadyThereError for who teaches here now.
    """
    with scopes_disabled(), transaction.atomic():
        Studio.objects.select_for_update().get(pk=invitation.studio_id)
        place = Membership.objects.filter(studio=invitation.studio, user=user).first()
        if place is not None and place.ended_at is None and _runs(place, moment):
            raise AlreadyThereError
        used = Invitation.objects.filter(
            pk=invitation.pk, used_at__isnull=True, expires_at__gt=moment
        ).update(used_at=moment)
        if used != 1:
            return None
        place = place or Membership(studio=invitation.studio, user=user)
        place.role, place.ends_on, place.ended_at = invitation.role, invitation.ends_on, None
        place.save()
        _record(place, AuditKind.JOINED, moment, about=place.public_id, to=place.role)
    return place


def join_with_new_account(
    invitation: Invitation, *, account: dict[str, Any], moment: datetime
) -> User | None:
    """Make an account and join with it, both or neither."""
    user = User.objects.unsaved(**account)
    with transaction.atomic():
        user.save()
        if join_studio(invitation, user=user, moment=moment) is None:
            transaction.set_rollback(True)
            return None
    return user


def change_teacher(
    place: Membership, *, role: Role, ends_on: date | None, by: Membership, moment: datetime
) -> Membership:
    """Give a teacher another part; LastOwnerError where the studio would have no owner."""
    with transaction.atomic():
        _keep_an_owner(place, stays=role is Role.OWNER)
        give_part(place, role=role, ends_on=ends_on)
        _record(by, AuditKind.ROLE, moment, about=place.public_id, to=role)
    return place


def give_part(place: Membership, *, role: Role, ends_on: date | None) -> None:
    """Write a teacher's part down, and free the students of one who only reads from now on.

    Within a transaction of the caller's, who sees to it that the studio keeps an owner.
    """
    place.role, place.ends_on = role, ends_on if role is Role.COVER else None
    place.save(update_fields=["role", "ends_on"])
    if role is Role.COVER:
        _free_students(place)


def end_membership(place: Membership, *, by: Membership, moment: datetime) -> int:
    """Take a teacher out of the studio at once; says how many students were theirs.

    What the teacher wrote stays, and the students stay, with nobody's name beside them.
    """
    with transaction.atomic():
        _keep_an_owner(place, stays=False)
        _record(by, AuditKind.LEFT, moment, about=place.public_id)
        return take_out(place, moment=moment)


def take_out(place: Membership, *, moment: datetime) -> int:
    """End a place, free its students, and pass on what waits for its teacher; see end_membership.

    Within a transaction of the caller's, who sees to it that the studio keeps an owner.
    """
    Membership.objects.filter(pk=place.pk, ended_at__isnull=True).update(ended_at=moment)
    free = _free_students(place)
    letters.pass_on(place, moment=moment)
    return free


def hand_over_student(
    student: Student, *, to: Membership | None, by: Membership, moment: datetime
) -> None:
    """Put a student with another teacher of the same studio; the whole history goes along.

    Nothing is copied and nothing moves: the studio keeps the student's rows, and every teacher of
    it reads them. Handed to the teacher they are with, nothing is written.
    """
    if to is not None and to.studio_id != student.studio_id:
        message = "A student is handed over within one studio."
        raise ValueError(message)
    if student.teacher_id == (to.user_id if to else None):
        return
    with transaction.atomic():
        student.teacher = to.user if to else None
        student.save(update_fields=["teacher"])
        _record(
            by,
            AuditKind.HANDED_OVER,
            moment,
            about=student.public_id,
            to=to.public_id if to else "",
        )


def choose_whose_students(place: Membership, *, own_only: bool) -> None:
    """Let a teacher's lists show their own students, or everybody's."""
    Membership.objects.filter(pk=place.pk).update(own_students_only=own_only)


def _open(moment: datetime, **named: str) -> Invitation | None:
    with scopes_disabled():
        found: Invitation | None = (
            Invitation.objects.select_related("studio")
            .filter(used_at__isnull=True, expires_at__gt=moment, **named)
            .first()
        )
    return found


def _runs(place: Membership, moment: datetime) -> bool:
    return place.ends_on is None or place.ends_on >= moment.date()


def _keep_an_owner(place: Membership, *, stays: bool) -> None:
    """Hold the studio's row, so that two owners cannot both leave at the same moment."""
    Studio.objects.select_for_update().get(pk=place.studio_id)
    others = Membership.objects.filter(
        studio=place.studio_id, role=Role.OWNER, ended_at__isnull=True
    ).exclude(pk=place.pk)
    if place.is_owner and not stays and not others.exists():
        raise LastOwnerError


def _free_students(place: Membership) -> int:
    return int(
        Student.objects.filter(studio=place.studio_id, teacher=place.user_id).update(teacher=None)
    )


def _record(by: Membership, kind: AuditKind, moment: datetime, *, about: str, to: str = "") -> None:
    record(by.studio, kind, by=by.user, moment=moment, about=about, to=to)
