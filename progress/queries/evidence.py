"""Rows to the engine's types: what an assessment of one student's block is made from."""

from datetime import date, datetime, timedelta
from statistics import median

from progress.engine.check_in import Discomfort as Hurt
from progress.engine.check_in import Register
from progress.engine.evidence import (
    AssignedBlock,
    CheckIn,
    Evidence,
    Lesson,
    OpenKind,
    OpenThing,
)
from progress.engine.parameters import USUAL
from progress.models import CheckIn as CheckInRow
from progress.models import LessonRating
from progress.queries.months import StudentMonth, ratings_of
from routines.engine import timeline
from routines.engine.dynamics import Kind
from routines.engine.variants import Aim
from routines.models import Block, BlockVersion
from studio.access import practice_day
from studio.models import Discomfort, Studio

LAST_NOTES = 5
GRAVITY = {"": 0, Hurt.NONE: 0, Hurt.MILD: 1, Hurt.PAIN: 2}


def evidence_of(month: StudentMonth) -> Evidence | None:
    """Gather all that is known of the block a month shows; None before it has begun."""
    block, version = month.block, month.version
    if block is None or version is None or month.day < block.first_day:
        return None
    rows = [row for day, row in sorted(month.check_ins.items()) if _is_in(block, day)]
    top = top_reached(version, rows)
    studio = month.student.studio
    # Many days are played under the same version, and counting its notes takes a while.
    played = {row.version_id: _played_under(block, row) for row in rows}
    seconds = {number: asked_seconds(version, top) for number, version in played.items()}
    return Evidence(
        block=_assigned(month, block, version, top),
        check_ins=(
            *(_check_in(row, block, studio, seconds[row.version_id]) for row in rows),
            *_told_apart(month, block, rows),
        ),
        lessons=tuple(_lesson(row) for row in month.lessons if _is_in(block, row.day)),
        open_things=tuple(_open_things(month)),
    )


def _assigned(
    month: StudentMonth, block: Block, version: BlockVersion, top: int | None
) -> AssignedBlock:
    plan = version.plan
    return AssignedBlock(
        start=block.first_day,
        days=(block.last_day - block.first_day).days + 1,
        notes=_notes(version, top),
        hold=plan.hold,
        rest=plan.rest,
        tempo=plan.tempo,
        top_target=None if plan.top_note is None else plan.top_note - plan.start_note,
        aim=Aim(block.aim) if block.aim else None,
        child=month.student.child,
        contrasts=plan.dynamics.kind is not Kind.ONE,
        since=month.evidence_since,
    )


def _check_in(row: CheckInRow, block: Block, studio: Studio, seconds: float) -> CheckIn:
    version = _played_under(block, row)
    return CheckIn(
        day=row.day,
        filed=_filed(row, studio),
        received=practice_day(studio, row.received_at),
        ratings=ratings_of(row),
        effort=row.effort,
        minutes=None if row.seconds is None else row.seconds / 60,
        completed=row.completed,
        discomfort=Hurt(row.discomfort) if row.discomfort else None,
        high=None if row.high_note is None else row.high_note - version.start_note,
        trouble=None if row.trouble is None else frozenset(map(Register, row.trouble)),
        planned=seconds,
    )


def _played_under(block: Block, row: CheckInRow) -> BlockVersion:
    """Choose the version that a check-in names; an edit of the same day does not change it."""
    version = row.version
    version.block = block
    return version


def _filed(row: CheckInRow, studio: Studio) -> date:
    """Say on which practice day a check-in was written, by the phone's own clock where it told."""
    if row.utc_offset_minutes is None:
        return practice_day(studio, row.done_at)
    ends = studio.day_ends_at
    there: datetime = row.done_at + timedelta(minutes=row.utc_offset_minutes)
    return (there - timedelta(hours=ends.hour, minutes=ends.minute)).date()


def _told_apart(month: StudentMonth, block: Block, rows: list[CheckInRow]) -> list[CheckIn]:
    """Turn what was told apart from the check-ins into rows without answers, one a day.

    The worst of a day counts, once, whatever the day's check-in says less; how much is not asked
    in a session, and what was not said counts as pain. What hurt after the block's last day or in
    the week before its first still holds a student back.
    """
    said = {row.day: GRAVITY[row.discomfort] for row in rows}
    since = min(block.first_day, month.day - timedelta(days=USUAL.pain_days))
    worst: dict[date, CheckIn] = {}
    for told in sorted(month.told, key=lambda row: row.told_at):
        how = Hurt(told.how_much) if told.how_much else Hurt.PAIN
        before = worst.get(told.day)
        known = said.get(told.day, 0) if before is None else GRAVITY[before.discomfort or ""]
        if told.day >= since and GRAVITY[how] > known:
            worst[told.day] = CheckIn(
                day=told.day,
                filed=told.day,
                received=_told_on(told, month.student.studio),
                discomfort=how,
            )
    return list(worst.values())


def _told_on(told: Discomfort, studio: Studio) -> date:
    return max(told.day, practice_day(studio, told.told_at))


def _lesson(row: LessonRating) -> Lesson:
    return Lesson(day=row.day, ratings=ratings_of(row), filed=row.filed_on)


def _open_things(month: StudentMonth) -> list[OpenThing]:
    return [
        *(
            OpenThing(kind=OpenKind.DISCOMFORT, begins=min(row.day, month.day))
            for row in month.discomforts
        ),
        *(
            OpenThing(kind=OpenKind(row.kind), begins=row.first_day, ends=row.last_day)
            for row in month.interruptions
        ),
    ]


def top_reached(version: BlockVersion, rows: list[CheckInRow]) -> int | None:
    """Say how high an open top is played: the median last good note of the last check-ins."""
    notes = [row.high_note for row in rows if row.high_note is not None][-LAST_NOTES:]
    return max(version.start_note, int(median(notes))) if notes else None


def asked_seconds(version: BlockVersion, top: int | None) -> float:
    """Say how long the notes of one session sound; an open top goes to the note reached."""
    return _notes(version, top) * timeline.seconds(version.hold, version.tempo)


def _notes(version: BlockVersion, top: int | None) -> int:
    """Count the notes of a session; an open top goes to the note reached, else the shorter walk."""
    plan = version.plan
    if plan.top_note is not None:
        return timeline.build(plan).totals.notes
    if top is None:
        built = timeline.build(plan)
        return (built.shortest or built.totals).notes
    reached = max(plan.start_note, min(top, plan.highest_note))
    return timeline.build(plan.to(reached)).totals.notes


def _is_in(block: Block, day: date) -> bool:
    return block.first_day <= day <= block.last_day
