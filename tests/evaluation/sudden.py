"""How often "look in: two rows fell" is said of invented students, and how often of mere noise.

Conventions: a change is looked for after each check-in of the block, with what was filed for the
days up to it. One begins at a check-in that shows it where the one before did not. It is of noise
where the true chance of a good note, over the same days, fell by REAL_FALL on fewer than two of
the four.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean

from progress.engine.attention import (
    BEFORE,
    NEWEST,
    ROWS_FALLEN,
    Answers,
    Code,
    sudden_change,
)
from progress.engine.check_in import Criterion
from progress.engine.evidence import UNANSWERED, CheckIn
from tests.evaluation.measures import Case
from tests.evaluation.people import FIRST_DAY, Person, share

REAL_FALL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Sudden:
    """Changes of some students: begun in a student-month, and of noise alone among those begun.

    `standing` is the share of check-ins after which one is shown.
    """

    begun: float
    standing: float
    of_noise: float | None


def sudden(cases: Sequence[Case]) -> Sudden:
    """Count the changes of a cohort."""
    begun: list[bool] = []
    shown: list[bool] = []
    for case in cases:
        before = False
        for number in range(1, len(rows := _rows(case)) + 1):
            now = _fell(rows[:number])
            if now and not before:
                begun.append(_is_real(case.person, rows[:number]))
            shown.append(now)
            before = now
    return Sudden(
        begun=len(begun) / len(cases),
        standing=fmean(shown) if shown else 0.0,
        of_noise=1 - fmean(begun) if begun else None,
    )


def _rows(case: Case) -> list[CheckIn]:
    answered = (row for row in case.evidence.check_ins if row.ratings != UNANSWERED)
    return sorted(answered, key=lambda row: row.day)


def _fell(rows: Sequence[CheckIn]) -> bool:
    answers = [Answers(day=row.day, ratings=row.ratings, effort=None) for row in rows]
    return any(reason.code is Code.FALL for reason in sudden_change(answers))


def _is_real(person: Person, rows: Sequence[CheckIn]) -> bool:
    newest, before = rows[-NEWEST:], rows[-NEWEST - BEFORE : -NEWEST]
    pairs = zip(_true(person, before), _true(person, newest), strict=True)
    return sum(then - now >= REAL_FALL for then, now in pairs) >= ROWS_FALLEN


def _true(person: Person, rows: Sequence[CheckIn]) -> Iterator[float]:
    """Give the mean true chance of a good note on each of the four over the days of some rows."""
    days = [person.skill[(row.day - FIRST_DAY).days] for row in rows]
    for place in range(len(Criterion)):
        yield fmean(share(skill[place]) for skill in days)
