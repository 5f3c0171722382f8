"""Three rules on the same evidence: the assessment, and two a teacher could use without it.

Conventions: a rule gives one Verdict for each day of the block, from what was known on that day.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from statistics import fmean

from progress.engine.evidence import CheckIn, Evidence, Lesson
from progress.engine.readiness import Outcome, assess_block
from tests.evaluation.people import the_date

GOOD = 4.0
LAST_CHECK_INS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a rule says on a day: ready or not, how likely, and the outcome if it names one."""

    ready: bool
    chance: float
    outcome: Outcome | None = None


Rule = Callable[[Evidence], tuple[Verdict, ...]]


def assessment(evidence: Evidence) -> tuple[Verdict, ...]:
    """Ask the engine."""
    return tuple(
        Verdict(
            ready=found.outcome is Outcome.MAY_BE_READY,
            chance=found.chance,
            outcome=found.outcome,
        )
        for found in assess_block(evidence)
    )


def mean_of_the_last_seven(evidence: Evidence) -> tuple[Verdict, ...]:
    """Say ready when the own ratings of the last seven check-ins average a 4."""
    return _by_mean(evidence, lambda day: _known(evidence.check_ins, day)[-LAST_CHECK_INS:])


def last_lesson(evidence: Evidence) -> tuple[Verdict, ...]:
    """Say ready when the last lesson's four ratings average a 4."""
    return _by_mean(evidence, lambda day: _known(evidence.lessons, day)[-1:])


RULES: dict[str, Rule] = {
    "assessment": assessment,
    "mean of the last seven >= 4": mean_of_the_last_seven,
    "teacher's last lesson >= 4": last_lesson,
}


def _known(rows: tuple[CheckIn, ...] | tuple[Lesson, ...], day: date) -> list[CheckIn | Lesson]:
    known = [row for row in rows if row.known_on <= day and row.is_rated]
    return sorted(known, key=lambda row: row.day)


def _by_mean(
    evidence: Evidence, rows_on: Callable[[date], list[CheckIn | Lesson]]
) -> tuple[Verdict, ...]:
    verdicts = []
    for number in range(evidence.block.days):
        rows = rows_on(the_date(number))
        ratings = [rating for row in rows for rating in row.ratings if rating is not None]
        ready = bool(ratings) and fmean(ratings) >= GOOD
        verdicts.append(Verdict(ready=ready, chance=float(ready)))
    return tuple(verdicts)
