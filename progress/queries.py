"""What is read about practice, one studio or one student at a time."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import QuerySet

from progress.engine.attention import Reason, look_in
from progress.models import CheckIn, NotToday
from routines.models import Block, BlockVersion
from routines.queries import blocks_of, last_over, next_to_come, running, version_on, with_blocks
from studio.models import Discomfort, Student
from studio.queries import open_discomforts, with_open_things
from studio.words import GrantState

ENDING_WITHIN_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class StudentMonth:
    """What is known of one student's block on a day.

    `block` is the running one, else the one that ended last, else the next to come. `check_ins`
    holds the latest row of each day and `revisions` the ones it replaced.
    """

    student: Student
    day: date
    block: Block | None
    version: BlockVersion | None
    check_ins: dict[date, CheckIn]
    revisions: dict[date, list[CheckIn]]
    not_todays: dict[date, NotToday]
    discomforts: Sequence[Discomfort]
    follows: Block | None
    reasons: tuple[Reason, ...]

    @property
    def is_running(self) -> bool:
        """Whether the block is due on the day."""
        return self.block is not None and self.block.first_day <= self.day <= self.block.last_day

    @property
    def is_ending(self) -> bool:
        """Whether the block is over, or will be within a week, and nothing follows it yet."""
        if self.block is None or self.follows is not None:
            return False
        return self.block.last_day < self.day + timedelta(days=ENDING_WITHIN_DAYS)

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
    rows = list(with_open_things(with_blocks(students)))
    ids = [student.pk for student in rows]
    shown = {student.pk: _block_to_show(student.block_set.all(), day) for student in rows}
    since = min((block.first_day for block in shown.values() if block), default=day)
    check_ins = _by_student(standing_check_ins().filter(student_id__in=ids, day__gte=since))
    not_todays = _by_student(NotToday.objects.filter(student_id__in=ids, day__gte=since))
    return [
        _month(
            student,
            day=day,
            block=shown[student.pk],
            blocks=student.block_set.all(),
            check_ins=check_ins.get(student.pk, []),
            not_todays=not_todays.get(student.pk, []),
            discomforts=open_discomforts(student),
        )
        for student in rows
    ]


def student_month(student: Student, day: date, *, block: Block | None = None) -> StudentMonth:
    """Read one student's month: the block of the day, or a given older one."""
    blocks = blocks_of(student)
    return _month(
        student,
        day=day,
        block=block or _block_to_show(blocks, day),
        blocks=blocks,
        check_ins=list(standing_check_ins().filter(student=student)),
        not_todays=list(NotToday.objects.filter(student=student)),
        discomforts=open_discomforts(student),
    )


def standing_check_ins() -> QuerySet[CheckIn]:
    """All check-ins but those of phones that were refused, which are set aside."""
    rows: QuerySet[CheckIn] = CheckIn.objects.exclude(grant__state=GrantState.REFUSED)
    return rows.order_by("day", "done_at", "pk")


def days_to_fill(student: Student, today: date) -> list[date]:
    """List the days a student may check in for, the newest first: today and some days back."""
    blocks = blocks_of(student)
    back = student.studio.back_fill_days
    days = [today - timedelta(days=number) for number in range(back + 1)]
    return [day for day in days if running(blocks, day) is not None]


def _block_to_show(blocks: Iterable[Block], day: date) -> Block | None:
    return running(blocks, day) or last_over(blocks, day) or next_to_come(blocks, day)


def _by_student(rows: QuerySet[CheckIn] | QuerySet[NotToday]) -> dict[int, list]:  # type: ignore[type-arg]
    found: dict[int, list] = {}  # type: ignore[type-arg]
    for row in rows:
        found.setdefault(row.student_id, []).append(row)
    return found


def _month(  # noqa: PLR0913 - the parts of one row
    student: Student,
    *,
    day: date,
    block: Block | None,
    blocks: Iterable[Block],
    check_ins: Sequence[CheckIn],
    not_todays: Sequence[NotToday],
    discomforts: Sequence[Discomfort],
) -> StudentMonth:
    latest: dict[date, CheckIn] = {}
    revisions: dict[date, list[CheckIn]] = {}
    for row in check_ins:
        if row.day in latest:
            revisions.setdefault(row.day, []).insert(0, latest[row.day])
        latest[row.day] = row
    told = {row.day: row for row in not_todays}
    asked = running(blocks, day)
    return StudentMonth(
        student=student,
        day=day,
        block=block,
        version=version_on(block, max(day, block.first_day)) if block else None,
        check_ins=latest,
        revisions=revisions,
        not_todays=told,
        discomforts=discomforts,
        follows=next_to_come(blocks, day) if block and block.first_day <= day else None,
        reasons=look_in(
            day=day,
            asked_since=asked.first_day if asked else None,
            hurts=[row.day for row in discomforts],
            news=[*latest, *told],
        ),
    )
