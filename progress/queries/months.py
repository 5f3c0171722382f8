"""What is read about practice, one studio or one student at a time."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet

from progress.engine.attention import (
    QUIET_AFTER_DAYS,
    Answers,
    Code,
    Reason,
    look_in,
    repeated,
    sudden_change,
)
from progress.engine.evidence import Ratings
from progress.engine.parameters import USUAL
from progress.models import CheckIn, LessonRating, NotToday, Rated
from progress.queries.news import News, news_by_student
from routines.models import Block, BlockVersion
from routines.queries import (
    as_pauses,
    blocks_of,
    last_over,
    next_to_come,
    running,
    times_in_a_row,
    version_on,
    with_blocks,
)
from studio.models import Discomfort, Interruption, Student
from studio.queries import pausing
from studio.words import InterruptionKind

ENDING_WITHIN_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class StudentMonth:
    """What is known of one student's block on a day.

    `block` is the running one, else the one that ended last, else the next to come. `check_ins`
    holds the latest row of each day, `revisions` those it replaced; `told` is all that hurt, the
    newest first. `filed_days` are those of every check-in, under whatever block. `derived` keeps
    what a page has worked out of the month alone.
    """

    student: Student
    day: date
    block: Block | None
    version: BlockVersion | None
    check_ins: dict[date, CheckIn]
    filed_days: frozenset[date]
    revisions: dict[date, list[CheckIn]]
    not_todays: dict[date, NotToday]
    lessons: Sequence[LessonRating]
    told: Sequence[Discomfort]
    interruptions: Sequence[Interruption]
    follows: Block | None
    reasons: tuple[Reason, ...]
    derived: dict[Any, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def discomforts(self) -> list[Discomfort]:
        """What hurt and no teacher has closed, the newest first."""
        return [row for row in self.told if row.closed_at is None]

    @property
    def open_interruptions(self) -> list[Interruption]:
        """What keeps the student from the plan on the day, the earliest first."""
        return [
            row
            for row in self.interruptions
            if row.first_day <= self.day and (row.last_day is None or row.last_day >= self.day)
        ]

    @property
    def coming_interruptions(self) -> list[Interruption]:
        """What is known already to keep the student from the plan later, the earliest first."""
        return [row for row in self.interruptions if row.first_day > self.day]

    def pause_on(self, day: date) -> Interruption | None:
        """Find the confirmed pause a day lies in; without a last day it reaches to the month's."""
        for row in pausing(self.interruptions):
            if row.first_day <= day <= (row.last_day or self.day):
                return row
        return None

    @property
    def kept_from_it(self) -> list[Interruption]:
        """What kept the student from the plan in the days of the block, over or not."""
        block = self.block
        if block is None:
            return []
        return [
            row
            for row in self.interruptions
            if row.first_day <= block.last_day
            and (row.last_day is None or row.last_day >= block.first_day)
        ]

    @property
    def evidence_since(self) -> date | None:
        """The day of a mouth event in the block, from which the evidence starts anew."""
        days = [
            row.first_day
            for row in self.kept_from_it
            if row.kind == InterruptionKind.MOUTH
            and self.block is not None
            and self.block.first_day <= row.first_day <= min(self.day, self.block.last_day)
        ]
        return max(days, default=None)

    @property
    def is_running(self) -> bool:
        """Whether the block is due on the day."""
        return self.block is not None and self.block.first_day <= self.day <= self.block.last_day

    @property
    def is_ending(self) -> bool:
        """Whether the block is over, or past its half and so within a week; nothing follows it."""
        if self.block is None or self.follows is not None:
            return False
        half = (self.block.last_day - self.block.first_day).days // 2
        begun = self.block.first_day + timedelta(days=half) <= self.day
        return begun and self.block.last_day < self.day + timedelta(days=ENDING_WITHIN_DAYS)

    @property
    def week(self) -> int:
        """The week of the block, counted from 1; the last one once it is over."""
        if self.block is None:
            return 0
        inside = min(max(self.day, self.block.first_day), self.block.last_day)
        return (inside - self.block.first_day).days // 7 + 1

    @property
    def weeks(self) -> int:
        """How many weeks the block has, a part of a week counting as one."""
        if self.block is None:
            return 0
        return ((self.block.last_day - self.block.first_day).days + 7) // 7


def studio_months(students: QuerySet[Student], day: date) -> list[StudentMonth]:
    """Read every student's block and news, in a fixed number of queries at any size."""
    rows = list(with_blocks(students))
    plans = {student.pk: plan_of(student.block_set.all(), day) for student in rows}
    since = {number: plan.read_since(day) for number, plan in plans.items()}
    news = news_by_student(since, day, hurts_since=hurts_read_since(since.values(), day))
    return [
        month_of(student, day=day, plan=plans[student.pk], news=news[student.pk])
        for student in rows
    ]


def student_month(student: Student, day: date, *, block: Block | None = None) -> StudentMonth:
    """Read one student's month: the block of the day, or a given older one."""
    plan = plan_of(blocks_of(student), day, block=block)
    news = news_by_student({student.pk: date.min}, day, hurts_since=date.min)[student.pk]
    return month_of(student, day=day, plan=plan, news=news)


def hurts_read_since(since: Iterable[date], day: date) -> date:
    """Say from which day on to read what hurt and is closed: of all blocks, and of some days."""
    return min((*since, day - timedelta(days=USUAL.pain_days)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a student's blocks come to on a day, all of them looked through.

    `block` is the one to show, `follows` comes after it; `asked` runs on the day, and its plan has
    been a month's `in_a_row` times.
    """

    block: Block | None
    version: BlockVersion | None
    follows: Block | None
    asked: Block | None
    in_a_row: int

    @property
    def since(self) -> date | None:
        """The first day of the block that is shown."""
        return self.block.first_day if self.block else None

    def read_since(self, day: date) -> date:
        """From which day on to read what was told: of a block to come, what is told meanwhile."""
        return min(self.since or day, day)


def plan_of(blocks: Iterable[Block], day: date, *, block: Block | None = None) -> Plan:
    """Choose what is shown of a student's blocks on a day, or show a given one."""
    asked = running(blocks, day)
    shown = block or asked or last_over(blocks, day) or next_to_come(blocks, day)
    # Of an older block the one that came after it, running or over, follows.
    has_begun = shown is not None and shown.first_day <= day
    return Plan(
        block=shown,
        version=version_on(shown, _day_inside(shown, day)) if shown else None,
        follows=next_to_come(blocks, shown.first_day) if shown and has_begun else None,
        asked=asked,
        in_a_row=times_in_a_row(blocks, asked) if asked else 0,
    )


def month_of(student: Student, *, day: date, plan: Plan, news: News) -> StudentMonth:
    """Put together what is known of one student's block on a day from the rows about it."""
    latest: dict[date, CheckIn] = {}
    revisions: dict[date, list[CheckIn]] = {}
    for row in news.check_ins:
        if plan.block is None or row.block_id != plan.block.pk:
            continue
        if row.day in latest:
            revisions.setdefault(row.day, []).insert(0, latest[row.day])
        latest[row.day] = row
    return StudentMonth(
        student=student,
        day=day,
        block=plan.block,
        version=plan.version,
        check_ins=latest,
        filed_days=frozenset(row.day for row in news.check_ins),
        revisions=revisions,
        not_todays={row.day: row for row in news.not_todays},
        lessons=news.lessons,
        told=news.told,
        interruptions=news.interruptions,
        follows=plan.follows,
        reasons=_reasons(day, plan=plan, news=news, latest=latest),
    )


def _day_inside(block: Block, day: date) -> date:
    """Choose the day of a block nearest to a day; what was planned after its end never came."""
    return max(block.first_day, min(day, block.last_day))


def _reasons(
    day: date, *, plan: Plan, news: News, latest: Mapping[date, CheckIn]
) -> tuple[Reason, ...]:
    """Gather why to look in, the gravest first; changes count while the block runs."""
    asked = plan.asked
    found = look_in(
        day=day,
        asked_since=asked.first_day if asked else None,
        hurts=[row.day for row in news.told if row.closed_at is None],
        news=[*(row.day for row in news.check_ins), *(row.day for row in news.not_todays)],
        pauses=as_pauses(news.interruptions),
    )
    if asked is None:
        return found
    hurt = tuple(reason for reason in found if reason.code is Code.HURT)
    answers = [
        Answers(day=row.day, ratings=ratings_of(row), effort=row.effort)
        for told, row in sorted(latest.items())
        if asked.first_day <= told <= day
    ]
    is_fresh = bool(answers) and answers[-1].day > day - timedelta(days=QUIET_AFTER_DAYS)
    changed = sudden_change(answers) if is_fresh else ()
    again = repeated(plan.in_a_row, asked.first_day)
    return (*hurt, *changed, *again, *(reason for reason in found if reason not in hurt))


def ratings_of(row: Rated) -> Ratings:
    """Read the four answers in the order of a note."""
    return (row.attack, row.sound, row.evenness, row.release)
