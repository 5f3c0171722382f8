"""Makers of blocks to draw, without a database: 28 days from a Monday, hold 8 rest 8 at 60."""

from datetime import date, timedelta
from typing import Any, TypeVar

from progress.engine.evidence import AssignedBlock, CheckIn, Evidence, Lesson, Ratings
from progress.engine.trace import trace_to
from progress.queries.charts import ChartedBlock
from routines.models import Block, BlockVersion

START = date(2026, 3, 2)
NOTES = 27
Drawn = TypeVar("Drawn")


def day(number: int) -> date:
    """Return a day of the block, counted from 0."""
    return START + timedelta(days=number)


def four(
    attack: int | None = None,
    sound: int | None = None,
    evenness: int | None = None,
    release: int | None = None,
) -> Ratings:
    """Fill up with what was not answered."""
    return (attack, sound, evenness, release)


def a_check_in(number: int, *ratings: int | None, late: int = 0, **values: Any) -> CheckIn:
    return CheckIn(
        day=day(number),
        filed=day(number + late),
        ratings=four(*ratings),
        **({"planned": NOTES * 8.0} | values),
    )


def a_lesson(number: int, *ratings: int | None) -> Lesson:
    return Lesson(day=day(number), ratings=four(*ratings))


def there(chart: Drawn | None) -> Drawn:
    """Return a chart that must have been drawn."""
    assert chart is not None
    return chart


def a_charted(
    *, check_ins: tuple[CheckIn, ...] = (), lessons: tuple[Lesson, ...] = (), today: int = 27,
    length: int = 28, **values: Any,
) -> ChartedBlock:  # fmt: skip
    """Make a block looked at on a day; every value can be set."""
    assigned = AssignedBlock(start=START, days=length, notes=NOTES, hold=8, rest=8, tempo=60)
    evidence = Evidence(block=assigned, check_ins=check_ins, lessons=lessons)
    fields: dict[str, Any] = {
        "block": Block(first_day=START, length_days=length),
        "version": BlockVersion(hold=8, rest=8, tempo=60),
        "last_day": day(min(today, length - 1)),
        "evidence": evidence,
        "trace": trace_to(evidence, day(today)),
        "changes": (),
        "highs": (),
        "asked": {},
    }
    return ChartedBlock(**(fields | values))
