"""Reads about recordings: who may make them, what there is, what a student is to play."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from progress.models import Recording, RecordingLeave
from routines.engine import timeline
from routines.engine.notes import display
from routines.models import Block, BlockVersion
from routines.queries import played_on
from routines.sheet import COUNT_IN, naming_of
from studio.models import Student

# A little less than what may be sent, so that the last note is not cut off.
MOST_SECONDS = 90
SILENCE_SECONDS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPlay:
    """The first notes of a day that fit into one recording.

    `sounding` are MIDI numbers, `labels` the same notes as the student reads them; seconds of one
    hold, one rest and one count.
    """

    block: Block
    version: BlockVersion
    sounding: tuple[int, ...]
    labels: tuple[str, ...]
    hold_seconds: float
    rest_seconds: float
    beat_seconds: float

    def asked(self, notes: int) -> dict[str, Any]:
        """Say what the first so many notes are measured against."""
        plan = self.version.plan
        return {
            "expected": list(self.sounding[:notes]),
            "tempo": plan.tempo,
            "hold": plan.hold,
            "rest": plan.rest,
        }

    @property
    def course(self) -> dict[str, Any]:
        """What the page runs by, in seconds from the first sample."""
        return {
            "silence": SILENCE_SECONDS,
            "countIn": COUNT_IN,
            "beat": self.beat_seconds,
            "hold": self.hold_seconds,
            "rest": self.rest_seconds,
            "notes": list(self.labels),
            "most": MOST_SECONDS,
        }


def leave_of(student: Student) -> RecordingLeave | None:
    """Find out whether a student may record now; None where nobody has said so."""
    leave: RecordingLeave | None = RecordingLeave.objects.filter(
        student=student, is_on=True
    ).first()
    return leave


def anybody_may_record() -> bool:
    """Find out whether any student of the studio may record now."""
    return bool(RecordingLeave.objects.filter(is_on=True).exists())


def recordings_of(student: Student) -> QuerySet[Recording]:
    """List a student's recordings, the newest first, without their curves."""
    rows: QuerySet[Recording] = Recording.objects.filter(student=student)
    return rows.defer("curves").select_related("block").order_by("-day", "-received_at", "-pk")


def to_play(student: Student, day: date) -> ToPlay | None:
    """Say what is recorded on a day: the first notes of its walk; None where no block runs."""
    version = played_on(student, day)
    if version is None:
        return None
    block, plan, naming = version.block, version.plan, naming_of(student)
    steps = timeline.build(plan, block.month.turn_of(day)).steps
    beat = timeline.seconds(1, plan.tempo)
    hold, rest = timeline.seconds(plan.hold, plan.tempo), timeline.seconds(plan.rest, plan.tempo)
    room = MOST_SECONDS - SILENCE_SECONDS - COUNT_IN * beat + rest
    fitting = max(1, min(len(steps), int(room // (hold + rest))))
    return ToPlay(
        block=block,
        version=version,
        sounding=tuple(step.sounding for step in steps[:fitting]),
        labels=tuple(display(step.written, naming) for step in steps[:fitting]),
        hold_seconds=hold,
        rest_seconds=rest,
        beat_seconds=beat,
    )


def may_be_heard(recording: Recording, today: date) -> bool:
    """Whether the sound is there and its date is not past, whether or not it was deleted yet."""
    is_ready = recording.state == "measured" and bool(recording.file)
    return is_ready and today <= recording.kept_until


def earlier_than(recording: Recording) -> QuerySet[Recording]:
    """List the recordings to put beside one: measured, and made before it."""
    rows: QuerySet[Recording] = Recording.objects.filter(
        student=recording.student, state="measured", received_at__lt=recording.received_at
    )
    return rows.order_by("-received_at")
