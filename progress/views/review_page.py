"""What the page about one month's end stands on, gathered once for showing and for deciding."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from progress.engine.assessment_json import as_json
from progress.engine.choices import Choice, Option, Session, options, session_of, suggested
from progress.models import Decision
from progress.queries.decisions import Due, ReviewList, decided_since, review_list
from progress.queries.kept_months import kept_months
from progress.queries.months import StudentMonth, student_month
from progress.queries.review import MonthFacts, month_facts
from progress.services.decisions import first_day_after
from progress.views.row import Row, row_of
from routines.engine import instruments, section
from routines.engine.plan import BlockPlan
from routines.models import Block
from routines.queries import blocks_of, setup_of, times_in_a_row, version_on
from routines.services.assign import UNDO_TIME
from studio import access
from studio.models import Membership

# What a decision turns on; a chance that moves a little is no reason to ask again.
TURNS_ON = ("block", "asked", "standing", "open", "suggested", "variant")
ASKED = ("instrument", "start_note", "low_note", "top_note", "back", "hold", "rest", "tempo",
         "dynamics")  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPage:
    """One student's month at its end, what it suggests, and where it stands in the list.

    `today` is the plan as the student's instrument of today reads it, `session` what one session
    of it comes to. `offered` leaves out what is harder while something is open.
    """

    block: Block
    month: StudentMonth
    row: Row
    facts: MonthFacts
    today: BlockPlan
    session: Session
    offered: Sequence[Option]
    suggested: Choice | None
    is_open: bool
    months_in_a_row: int
    begins: date
    listed: ReviewList
    lately: Sequence[Decision]

    @property
    def step(self) -> Option | None:
        """The step that the assessment proposes."""
        return next((one for one in self.offered if one.is_suggested), None)

    @property
    def apart(self) -> str:
        """What tells the student apart from another of the same name and instrument."""
        return self.listed.apart.get(self.block.student_id, "")

    @property
    def number(self) -> int | None:
        """Which of today's it is, counted from 1."""
        return self.listed.number_of(self.block)

    @property
    def seen(self) -> dict[str, Any]:
        """What stands on the page, to be kept with the decision."""
        found, line = self.row.assessment, self.row.line
        return {
            **(as_json(self.month.student.public_id, found) if found else {}),
            "block": self.block.public_id,
            "asked": {name: str(getattr(self.today, name)) for name in ASKED},
            "standing": self.row.standing.value if self.row.standing else None,
            "is_readable": bool(found and found.is_readable),
            "ask": found.ask if found else None,
            "levels": {one.criterion.value: one.level for one in found.criteria} if found else {},
            "open": len(self.month.discomforts) + len(self.month.open_interruptions),
            "days_done": line.done,
            "days_asked": line.asked,
            "enter": self.row.parameters.enter,
            "suggested": self.suggested.value if self.suggested else None,
        }

    def has_changed_since(self, shown: Mapping[str, Any]) -> bool:
        """Whether what the page now says differs in what a decision would turn on.

        What does not come from this page of this block counts as something else.
        """
        return any(shown.get(name) != self.seen[name] for name in TURNS_ON)


def review_page(membership: Membership, block: Block, *, day: date, moment: datetime) -> ReviewPage:
    """Gather the page of a block that has begun."""
    student = block.student
    month = student_month(student, day, block=block)
    row, facts = row_of(month), month_facts(month, block)
    found = row.assessment
    assert found is not None  # noqa: S101 - it has begun
    is_same = student.instrument == block.instrument
    today = section.carry(
        # What the month ends on, also where a change begins between today and then.
        version_on(block, block.last_day).plan,
        instruments.by_id(student.instrument),
        setup_of(student, student.instrument),
    )
    reached = facts.reached if is_same else None
    is_open = bool(month.discomforts or month.open_interruptions)
    offered = options(
        today,
        reached=reached,
        recent_hold_seconds=found.recent_hold_seconds,
        proposal=found.proposal,
        parameters=row.parameters,
    )
    return ReviewPage(
        block=block,
        month=month,
        row=row,
        facts=facts,
        today=today,
        session=session_of(today, reached),
        offered=[one for one in offered if not (is_open and one.is_harder)],
        suggested=None if is_open else suggested(found.outcome),
        is_open=is_open,
        months_in_a_row=times_in_a_row(blocks_of(student), block),
        begins=first_day_after(block, day),
        listed=due_in(membership, day),
        lately=decided_lately(membership, moment),
    )


def due_in(membership: Membership, day: date) -> ReviewList:
    """List the months of a teacher's students that are ending."""
    return review_list(kept_months(access.students_of(membership), day), day)


def decided_lately(membership: Membership, moment: datetime) -> list[Decision]:
    """List what was decided in the last ten minutes and can still be taken back."""
    return decided_since(access.students_of(membership), moment - UNDO_TIME)


def first_of(listed: ReviewList) -> Due | None:
    """Choose where to begin: the first that was not put off today."""
    return listed.fresh[0] if listed.fresh else None
