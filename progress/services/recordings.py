"""Writes about recordings: who may make them, one that arrives, and one that goes."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from progress.models import Recording, RecordingLeave
from progress.recording_models import new_file_name
from progress.services import recording_files
from routines.models import Block
from routines.queries import assigned_together
from studio.models import Grant, Student, User
from studio.services.record import record_about
from studio.words import AuditKind

MOST_KEPT = 60


class NotTakenError(ValueError):
    """A recording that is not taken; the message says why and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """What a phone says beside the sound: a key of its own, the browser's settings."""

    key: UUID
    day: date
    processing: dict[str, Any]
    asked: dict[str, Any]
    block: Block | None


def allow(student: Student, *, by: User, moment: datetime, **said: Any) -> RecordingLeave:
    """Say whether a student may record; what is here already keeps the date it was promised."""
    leave: RecordingLeave
    with transaction.atomic():
        record_about(student, AuditKind.RECORDINGS, by=by, moment=moment)
        leave, _is_new = RecordingLeave.objects.update_or_create(
            student=student, defaults={**said, "by": by, "changed_at": moment}
        )
    return leave


def ask_with_block(student: Student, block: Block | None) -> None:
    """Ask for a recording with a block, or no more; only who may record is asked."""
    RecordingLeave.objects.filter(student=student, is_on=True).update(asked_for=block)


def ask_with_batch(batch: str) -> int:
    """Ask everybody of blocks assigned together who may record; say how many that were."""
    asked = 0
    for block in assigned_together(batch):
        leaves = RecordingLeave.objects.filter(student=block.student, is_on=True)
        asked += leaves.update(asked_for=block)
    return asked


def ask_when_assigned(*, batch: str, **_signal: object) -> int:
    """Ask everybody of blocks that were just assigned with the wish to hear them."""
    return ask_with_batch(batch)


def take_in(
    grant: Grant, leave: RecordingLeave, sent: Sent, pieces: Iterable[bytes], *, moment: datetime
) -> Recording:
    """Keep what a phone sends, to be measured; the same sent twice is one.

    RecordingError if it is too large, NotTakenError if there is no room for more.
    """
    student = grant.student
    if before := Recording.objects.filter(student=student, key=sent.key).first():
        found: Recording = before
        return found
    if Recording.objects.filter(student=student).exclude(file="").count() >= MOST_KEPT:
        message = _("Your teacher has %(number)s of yours. Throw one away first.") % {
            "number": MOST_KEPT
        }
        raise NotTakenError(message)
    name = new_file_name()
    size, sum_of = recording_files.write_sent(name, pieces)
    if not size:
        recording_files.delete(name)
        message = _("No sound came. Send it once more.")
        raise NotTakenError(message)
    try:
        with transaction.atomic():
            made: Recording = Recording.objects.create(
                student=student,
                block=sent.block,
                grant=grant,
                key=sent.key,
                day=sent.day,
                received_at=moment,
                kept_until=sent.day + timedelta(days=leave.keep_days),
                file=name,
                size=size,
                sha256=sum_of,
                processing=sent.processing,
                asked=sent.asked,
            )
            if sent.block is not None:
                RecordingLeave.objects.filter(pk=leave.pk, asked_for=sent.block).update(
                    asked_for=None
                )
    except BaseException as error:
        recording_files.delete(name)
        if isinstance(error, IntegrityError):
            # Sent twice at once: the other one is kept.
            twin: Recording = Recording.objects.get(student=student, key=sent.key)
            return twin
        raise
    return made


def throw_away(recording: Recording) -> None:
    """Delete a recording, sound and figures."""
    recording.delete()


def let_go(*, today: date, moment: datetime) -> dict[str, int]:
    """Delete the sound of every recording whose date is past, and files that no row names.

    Of any studio: the dates were promised to all. `today` is the earliest day it is anywhere, so
    that no sound goes before its last day has ended.
    """
    gone = 0
    with scopes_disabled():
        for row in Recording.objects.filter(kept_until__lt=today).exclude(file=""):
            recording_files.delete(row.file)
            words = row.refusal if row.state == "refused" else ""
            state = row.state if row.state in {"measured", "refused"} else "refused"
            Recording.objects.filter(pk=row.pk).update(
                file="", state=state, refusal=words or ("" if state == "measured" else "too late")
            )
            gone += 1
        known = set(Recording.objects.exclude(file="").values_list("file", flat=True))
    return {"sounds": gone, "orphans": recording_files.delete_orphans(known, moment=moment)}
