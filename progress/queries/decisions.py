"""What is read about decisions, and the list of those that are due."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet

from progress.engine.choices import Choice
from progress.models import Decision
from progress.queries.months import StudentMonth
from routines.models import Block
from studio.access import practice_day
from studio.models import Student


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A month to decide about; `put_off` is the decision of today to decide later, if any."""

    month: StudentMonth
    put_off: Decision | None

    @property
    def block(self) -> Block:
        """The block that ends."""
        assert self.month.block is not None  # noqa: S101 - only months with a block end
        return self.month.block


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewList:
    """All that is due, what was put off today last, and how many were decided today."""

    due: Sequence[Due]
    decided_today: int

    @property
    def total(self) -> int:
        """How many there are today, the decided ones among them."""
        return self.decided_today + len(self.due)

    @property
    def fresh(self) -> list[Due]:
        """What has not been put off today."""
        return [each for each in self.due if each.put_off is None]

    def next_after(self, block: Block) -> Due | None:
        """Choose what comes after a block: the first one that was not put off."""
        return next((each for each in self.fresh if each.block.pk != block.pk), None)

    def number_of(self, block: Block) -> int | None:
        """Count a block from 1 among today's; None for one that is not due."""
        places = [each.block.pk for each in self.due]
        if block.pk not in places:
            return None
        put_off = len(self.due) - len(self.fresh)
        place = places.index(block.pk)
        is_fresh = place < len(self.fresh)
        return self.decided_today + (
            put_off + place + 1 if is_fresh else place - len(self.fresh) + 1
        )


def review_list(months: Sequence[StudentMonth], day: date) -> ReviewList:
    """List the months that are ending or over without a block that follows, the oldest first."""
    ending = [month for month in months if month.is_ending]
    students = [month.student.pk for month in months]
    today = [
        row
        for row in _standing().filter(student_id__in=students)
        if practice_day(row.student.studio, row.decided_at) == day
    ]
    later = {row.block_id: row for row in today if row.choice == Choice.LATER}
    due = [
        Due(month=month, put_off=later.get(month.block.pk) if month.block else None)
        for month in ending
    ]
    return ReviewList(
        due=sorted(due, key=_place),
        decided_today=sum(row.choice != Choice.LATER for row in today),
    )


def _place(due: Due) -> tuple[bool, date, str, int]:
    block, student = due.block, due.month.student
    return (due.put_off is not None, block.last_day, student.name, student.pk)


def decided_since(students: QuerySet[Student], moment: datetime) -> list[Decision]:
    """List what was decided since a moment and stands, the newest first."""
    rows = _standing().filter(student__in=students, decided_at__gt=moment)
    return list(rows.order_by("-decided_at", "-pk"))


def decisions_of(student: Student) -> list[Decision]:
    """List a student's decisions that stand, the newest first."""
    return list(_standing().filter(student=student).order_by("-decided_at", "-pk"))


def standing_of(block: Block) -> Decision | None:
    """Find what was decided about a block, "later" apart, and the block it made is there."""
    rows = _standing().filter(block=block, next_block__isnull=False)
    return rows.first()


def word_to_student(student: Student, block: Block | None) -> str:
    """Read what the teacher wrote for the student about a block, ending or just begun."""
    if block is None:
        return ""
    told = _standing().filter(
        Q(block=block) | Q(next_block=block), student=student, shown_to_student=True
    )
    newest = told.exclude(reason="").order_by("-decided_at", "-pk").first()
    return newest.reason if newest else ""


def _standing() -> QuerySet[Decision]:
    rows: QuerySet[Decision] = Decision.objects.filter(undone_at__isnull=True).select_related(
        "student__studio", "by", "next_block", "block"
    )
    return rows
