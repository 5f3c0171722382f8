"""What the charts of a student are drawn from: one block day by day, and all blocks so far."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import fmean

from progress.engine.evidence import Evidence
from progress.engine.trace import TraceDay, trace_to
from progress.models import RATINGS, CheckIn, LessonRating
from progress.queries.evidence import asked_seconds, evidence_of, top_reached
from progress.queries.months import StudentMonth, student_month
from progress.queries.news import standing_check_ins
from routines.engine.variants import variables
from routines.models import Block, BlockVersion
from routines.queries import version_on
from studio.models import Student

ONE_DAY = timedelta(days=1)
Answers = tuple[int | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """A new version inside a block: its first day, the plan, and what a teacher says changed."""

    day: date
    hold: int
    rest: int
    tempo: int
    variables: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HighNote:
    """The highest good note told of a day; `asked` is the top note of the version it was played
    under, None when open. Written MIDI numbers."""

    day: date
    note: int
    asked: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartedBlock:
    """One block up to the day it is looked at; all empty before it has begun.

    `asked` has the hold-seconds of every day that is for playing, under the version of that day;
    days off and confirmed pauses are not in it. The check-ins inside `evidence` carry the
    hold-seconds of the version each was played under.
    """

    block: Block
    version: BlockVersion
    last_day: date
    evidence: Evidence | None
    trace: Sequence[TraceDay]
    changes: Sequence[PlanChange]
    highs: Sequence[HighNote]
    asked: Mapping[date, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mean:
    """A mean of answers 1 to 5 and how many there were; None without any."""

    value: float | None
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockMeans:
    """A block that has begun: check-ins and lessons in it, and the means in the order of the four.

    `version` is the last one that was played.
    """

    block: Block
    version: BlockVersion
    last_day: date
    check_ins: int
    lessons: int
    own: tuple[Mean, ...]
    heard: tuple[Mean, ...]

    @property
    def pairs(self) -> list[tuple[Mean, Mean]]:
        """The student's and the teacher's means side by side, for each of the four."""
        return list(zip(self.own, self.heard, strict=True))


def charted(student: Student, day: date, block: Block | None = None) -> ChartedBlock | None:
    """Read one block of a student for the charts; None without any block.

    Without a block it is the one that the student's page shows.
    """
    month = student_month(student, day, block=block)
    if month.block is None or month.version is None:
        return None
    shown, evidence = month.block, evidence_of(month)
    last_day = min(day, shown.last_day)
    return ChartedBlock(
        block=shown,
        version=month.version,
        last_day=last_day,
        evidence=evidence,
        trace=() if evidence is None else trace_to(evidence, day),
        changes=_changes(shown, last_day),
        highs=_highs(month, shown),
        asked=_asked(month, shown, last_day),
    )


def block_means(student: Student, blocks: Sequence[Block], day: date) -> list[BlockMeans]:
    """Sum up every block that has begun by a day, the earliest first, in two queries."""
    rows = standing_check_ins().filter(student=student).values_list("block_id", "day", *RATINGS)
    lessons = LessonRating.objects.filter(student=student).order_by("day", "pk")
    # The latest row of a day stands, as everywhere; the order is the rows' own.
    told = {(block, of): tuple(answers) for block, of, *answers in rows}
    heard = {row[0]: tuple(row[1:]) for row in lessons.values_list("day", *RATINGS)}
    return [
        _means(block, told, heard, min(day, block.last_day))
        for block in sorted(blocks, key=lambda row: row.first_day)
        if block.first_day <= day
    ]


def _changes(block: Block, last_day: date) -> tuple[PlanChange, ...]:
    versions: Sequence[BlockVersion] = getattr(block, "version_rows", None) or list(
        block.versions.order_by("from_day")
    )
    for version in versions:
        version.block = block
    return tuple(
        PlanChange(
            day=after.from_day,
            hold=after.hold,
            rest=after.rest,
            tempo=after.tempo,
            variables=variables(before.plan, after.plan),
        )
        for before, after in pairwise(versions)
        if block.first_day < after.from_day <= last_day and variables(before.plan, after.plan)
    )


def _rows(month: StudentMonth, block: Block) -> list[CheckIn]:
    return [
        row
        for day, row in sorted(month.check_ins.items())
        if block.first_day <= day <= block.last_day
    ]


def _highs(month: StudentMonth, block: Block) -> tuple[HighNote, ...]:
    return tuple(
        HighNote(day=row.day, note=row.high_note, asked=row.version.top_note)
        for row in _rows(month, block)
        if row.high_note is not None
    )


def _asked(month: StudentMonth, block: Block, last_day: date) -> dict[date, float]:
    if month.version is None:
        return {}
    top = top_reached(month.version, _rows(month, block))
    seconds: dict[int, float] = {}
    asked = {}
    for day in _to_the_end_of_the_week(block, last_day):
        if day.weekday() in block.weekdays_off or month.pause_on(day) is not None:
            continue
        version = version_on(block, day)
        if version.pk not in seconds:
            seconds[version.pk] = asked_seconds(version, top)
        asked[day] = seconds[version.pk]
    return asked


def _to_the_end_of_the_week(block: Block, last_day: date) -> list[date]:
    """List the days of the weeks that have begun: a week is asked for as a whole."""
    if last_day < block.first_day:
        return []
    weeks = (last_day - block.first_day).days // 7 + 1
    days = [block.first_day + number * ONE_DAY for number in range(7 * weeks)]
    return [day for day in days if day <= block.last_day]


def _means(
    block: Block,
    told: Mapping[tuple[int, date], Answers],
    heard: Mapping[date, Answers],
    last_day: date,
) -> BlockMeans:
    own = [
        answers
        for (of, day), answers in told.items()
        if of == block.pk and block.first_day <= day <= last_day
    ]
    lessons = [answers for day, answers in heard.items() if block.first_day <= day <= last_day]
    return BlockMeans(
        block=block,
        version=version_on(block, last_day),
        last_day=last_day,
        check_ins=len(own),
        lessons=len(lessons),
        own=_columns(own),
        heard=_columns(lessons),
    )


def _columns(rows: Sequence[Answers]) -> tuple[Mean, ...]:
    return tuple(_mean([answers[place] for answers in rows]) for place in range(len(RATINGS)))


def _mean(answers: Sequence[int | None]) -> Mean:
    given = [answer for answer in answers if answer is not None]
    return Mean(value=fmean(given) if given else None, count=len(given))
