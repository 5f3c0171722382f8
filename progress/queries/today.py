"""What a student's page of the day is made from, in as few queries as can be."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, QuerySet

from progress.models import CheckIn
from progress.queries.days import first_to_fill
from progress.queries.decisions import with_words
from progress.queries.months import StudentMonth, month_of, plan_of
from progress.queries.news import news_by_student
from routines.models import Block, BlockVersion
from routines.queries import blocks_of_each, came_about, versions_about
from studio.models import Student


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """The month of the day, the blocks it may be about, the latest check-ins, the teacher's word.

    The month knows nothing older than its block, so not whether its plan is repeated, and nothing
    of lessons. Whether the student may record, and is asked to, is known only where there is a
    block.
    """

    month: StudentMonth
    blocks: Sequence[Block]
    check_ins: Sequence[CheckIn]
    word: str
    may_record: bool
    asked_to_record: bool


def today_of(student: Student, day: date) -> Today:
    """Read the day of one student, in five queries."""
    fill_in_since = first_to_fill(student, day)
    versions = _with_recording(with_words(versions_about(student, fill_in_since)))
    found = blocks_of_each(versions).get(student.pk, [])
    blocks = [block for block in found if came_about(block)]
    plan = plan_of(blocks, day)
    since = min(plan.since or day, fill_in_since)
    news = news_by_student({student.pk: since}, day, hurts_since=day, lessons=False)[student.pk]
    return Today(
        month=month_of(student, day=day, plan=plan, news=news),
        blocks=blocks,
        check_ins=news.check_ins,
        word=getattr(plan.version, "word", None) or "",
        may_record=bool(getattr(plan.version, "may_record", False)),
        asked_to_record=plan.block is not None
        and getattr(plan.version, "asked_to_record", None) == plan.block.pk,
    )


def _with_recording(versions: QuerySet[BlockVersion]) -> QuerySet[BlockVersion]:
    leave = "block__student__recording_leave"
    return versions.annotate(
        may_record=F(f"{leave}__is_on"), asked_to_record=F(f"{leave}__asked_for")
    )
