"""How the estimate of the four criteria went, day by day: what the charts draw.

Conventions: levels and deviations on the scale 1 to 5, one point a calendar day. A point is what
the assessment of that day works with, so a trace and an assessment can never differ.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from progress.engine.criteria import CriterionReading
from progress.engine.evidence import Evidence
from progress.engine.parameters import USUAL, Parameters
from progress.engine.readiness import looked_back_on
from progress.engine.replay import standings


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceDay:
    """Where the four stood on a day; ``is_readable`` says whether the evidence sufficed by then."""

    day: date
    criteria: tuple[CriterionReading, ...]
    is_readable: bool


def trace(
    evidence: Evidence, days: Sequence[date], parameters: Parameters = USUAL
) -> tuple[TraceDay, ...]:
    """Read the four on each of the days, which must ascend, from what was known on that day."""
    return tuple(
        TraceDay(
            day=day,
            criteria=standing.criteria(parameters),
            is_readable=not standing.missing(parameters),
        )
        for day, (_, standing) in zip(days, standings(evidence, days, parameters), strict=True)
    )


def trace_to(evidence: Evidence, day: date, parameters: Parameters = USUAL) -> tuple[TraceDay, ...]:
    """Read the four on every day of the block up to a day, from what is known on that last day.

    A row that came in late counts from its own day on, as in the replay that ends on ``day``. So
    the last point is that day's assessment, and the line goes through the answers beside it. Empty
    before the block has begun.
    """
    block = evidence.block
    count = (min(day, block.last_day) - block.start).days + 1
    days = [block.start + timedelta(days=passed) for passed in range(count)]
    return trace(looked_back_on(evidence, day), days, parameters)
