"""What is read about decisions, and the list of those that are due."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import F, Max, OuterRef, Q, QuerySet, Subquery

from progress.engine.choices import Choice
from progress.models import Decision
from progress.queries.months import StudentMonth
from routines.models import Block, BlockVersion
from studio.access import practice_day
from studio.models import Student
from studio.queries import told_apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A month to decide about; `put_off` is the decision of today to decide later, if any.

    `apart` tells the student apart from another of the same name and instrument.
    """

    month: StudentMonth
    put_off: Decision | None
    apart: str = ""

    @property
    def block(self) -> Block:
        """The block that ends."""
        assert self.month.block is not None  # noqa: S101 - only months with a block end
        return self.month.block


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewList:
    """All that is due, what was put off today last, and how many were decided today.

    `apart` tells students of one name and instrument apart, by their number in the table.
    """

    due: Sequence[Due]
    decided_today: int
    apart: Mapping[int, str] = field(default_factory=dict)

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
    # No place on earth is a day ahead of UTC, so none of today's lies before this.
    since = datetime.combine(day - timedelta(days=1), time.min, UTC)
    today = [
        row
        for row in _standing().filter(student_id__in=students, decided_at__gte=since)
        if practice_day(row.student.studio, row.decided_at) == day
    ]
    later = {row.block_id: row for row in today if row.choice == Choice.LATER}
    apart = told_apart(month.student for month in months)
    due = [
        Due(
            month=month,
            put_off=later.get(month.block.pk) if month.block else None,
            apart=apart.get(month.student.pk, ""),
        )
        for month in ending
    ]
    return ReviewList(
        due=sorted(due, key=_place),
        decided_today=sum(row.choice != Choice.LATER for row in today),
        apart=apart,
    )


def _place(due: Due) -> tuple[bool, date, str, int]:
    block, student = due.block, due.month.student
    return (due.put_off is not None, block.last_day, student.name, student.pk)


def decided_since(students: QuerySet[Student], moment: datetime) -> list[Decision]:
    """List what was decided since a moment and stands, the newest first.

    Each says as `changed_at` when its next block was changed after that, None where it was not.
    """
    since = Q(next_block__versions__made_at__gt=F("decided_at"))
    changes = Max("next_block__versions__made_at", filter=since)
    rows = _standing().filter(student__in=students, decided_at__gt=moment)
    return list(rows.annotate(changed_at=changes).order_by("-decided_at", "-pk"))


def next_block_changed_at(decision: Decision) -> datetime | None:
    """Find when the block that a decision made was changed last since then, None if it was not."""
    edits = BlockVersion.objects.filter(
        block=decision.next_block_id, made_at__gt=decision.decided_at
    )
    newest = edits.order_by("-made_at").first()
    return newest.made_at if newest else None


def decisions_of(student: Student) -> list[Decision]:
    """List a student's decisions that stand, the newest first."""
    return list(_standing().filter(student=student).order_by("-decided_at", "-pk"))


def standing_of(block: Block) -> Decision | None:
    """Find what was decided about a block, "later" apart, and the block it made is there."""
    rows = _standing().filter(block=block, next_block__isnull=False)
    return rows.first()


def word_to_student(student: Student, block: Block | None) -> str:
    """Read what the teacher wrote for the student about the block of the day.

    What was decided about the month after it is read once that month has begun: beside the old
    plan it would speak of a plan that nobody sees yet.
    """
    newest = _words(block).filter(student=student).first() if block else None
    return newest.reason if newest else ""


def with_words(versions: QuerySet[BlockVersion]) -> QuerySet[BlockVersion]:
    """Read along, as `word`, what the teacher wrote for the student about each block, or None."""
    told = _words(OuterRef("block")).filter(student=OuterRef("block__student"))
    return versions.annotate(word=Subquery(told.values("reason")[:1]))


def _words(block: Block | OuterRef) -> QuerySet[Decision]:
    """Ask for what may be read with a block, the newest first."""
    of_block = Q(next_block=block) | Q(block=block, choice=Choice.LATER)
    told = Decision.objects.filter(of_block, undone_at__isnull=True, shown_to_student=True)
    return told.exclude(reason="").order_by("-decided_at", "-pk")


def _standing() -> QuerySet[Decision]:
    rows: QuerySet[Decision] = Decision.objects.filter(undone_at__isnull=True).select_related(
        "student__studio", "by", "next_block", "block"
    )
    return rows
