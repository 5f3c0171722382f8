"""One student as the teacher's pages show them: the month, its line, the assessment."""

from dataclasses import dataclass, replace
from datetime import date

from progress.charts.month_line import MonthLine, month_line
from progress.engine.attention import Standing, standing
from progress.engine.parameters import BY_CAUTION, Caution, Parameters
from progress.engine.readiness import Assessment, assess_as_of
from progress.queries.evidence import evidence_of
from progress.queries.months import StudentMonth
from progress.views.line import line_days


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What stands about one student; `assessment` and `standing` are None before a block began.

    `apart` tells the student apart from another of the same name and instrument.
    """

    month: StudentMonth
    line: MonthLine
    assessment: Assessment | None
    standing: Standing | None
    parameters: Parameters
    apart: str = ""

    @property
    def is_over(self) -> bool:
        """Whether the block has had its last day."""
        return self.month.block is not None and self.month.block.last_day < self.month.day

    @property
    def as_of(self) -> date | None:
        """The day the assessment was taken on where that is not today, else None."""
        taken_on = self.assessment.day if self.assessment else self.month.day
        return None if taken_on == self.month.day else taken_on


def kept_row_of(month: StudentMonth, *, apart: str = "") -> Row:
    """Give the row of a list; what was worked out of a kept month is kept with it."""
    row: Row = month.derived.get("row") or row_of(month, small=True)
    month.derived["row"] = row
    return replace(row, apart=apart) if apart else row


def row_of(month: StudentMonth, *, small: bool = False, apart: str = "") -> Row:
    """Assess a student and draw the month; nothing of it is stored."""
    evidence = evidence_of(month)
    parameters = BY_CAUTION[Caution(month.student.studio.caution)]
    found = assess_as_of(evidence, month.day, parameters) if evidence else None
    return Row(
        month=month,
        line=month_line(line_days(month), small=small),
        assessment=found,
        standing=standing(
            found.outcome, month.reasons, day=month.day, last_day=month.block.last_day
        )
        if found and month.block
        else None,
        parameters=parameters,
        apart=apart,
    )
