"""How good a rule is on a cohort whose truth is known.

Conventions: a flag is the first day on which a rule says ready; it is false when the student is
ready on no day from it to seven days later. Days are counted from 0, shares 0 to 1; None where
nobody is left to count.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median

from progress.engine.evidence import Evidence
from progress.engine.readiness import Outcome
from tests.evaluation.people import WEEK, Person
from tests.evaluation.rules import Rule, Verdict

FIRST_READING = 10
CHECKED_DAYS = (13, 20, 27)
BINS = 5
EVERY_WEEK = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One student, what was reported, and what a rule said on each day."""

    person: Person
    evidence: Evidence
    verdicts: tuple[Verdict, ...]

    @property
    def flag(self) -> int | None:
        """The first day said to be ready."""
        return next((day for day, verdict in enumerate(self.verdicts) if verdict.ready), None)

    @property
    def last(self) -> int:
        """The last day of the block."""
        return self.person.days - 1

    @property
    def first_ready(self) -> int | None:
        """The first day of the block on which the student is ready."""
        return next((day for day in range(self.person.days) if self.person.ready[day]), None)

    @property
    def is_false(self) -> bool:
        """Whether there is a flag and it is false."""
        flag = self.flag
        return flag is not None and not any(self.person.ready[flag : flag + WEEK + 1])

    @property
    def should_be_flagged(self) -> bool:
        """Whether the student is ready all through the last week and without pain in it."""
        last_week = range(self.person.days - WEEK, self.person.days)
        calm = not any(self.last - pain <= WEEK for pain in self.person.pains)
        return calm and all(self.person.ready[day] for day in last_week)


def judged(people: Sequence[tuple[Person, Evidence]], rule: Rule) -> list[Case]:
    """Let a rule go over a cohort."""
    return [
        Case(person=person, evidence=evidence, verdicts=rule(evidence))
        for person, evidence in people
    ]


def measured(cases: Sequence[Case]) -> dict[str, float | None]:
    """Work out every measure of a cohort, by its name."""
    flagged = [case for case in cases if case.flag is not None]
    never = [case for case in cases if case.first_ready is None]
    due = [case for case in cases if case.should_be_flagged]
    due_and_heard = [case for case in due if len(case.person.lesson_days) >= EVERY_WEEK]
    ready = [case for case in cases if case.person.ready[case.last]]
    unready = [case for case in cases if not case.person.ready[case.last]]
    delays = [
        flag - max(first, FIRST_READING)
        for case in cases
        if (first := case.first_ready) is not None
        and (flag := case.flag) is not None
        and not case.is_false
    ]
    checked = [
        (case.verdicts[day].chance, case.person.ready[day])
        for case in cases
        for day in CHECKED_DAYS
    ]
    return {
        "false of first flags": _share([case.is_false for case in flagged]),
        "never-ready students ever flagged": _share([case.flag is not None for case in never]),
        "missed at block end": _share([not case.verdicts[-1].ready for case in due]),
        "missed at block end, heard every week": _share(
            [not case.verdicts[-1].ready for case in due_and_heard]
        ),
        "median delay, days": median(delays) if delays else None,
        "ready said within 7 days after a pain": float(sum(map(_after_pain, cases))),
        "changes per student-month": fmean(map(_changes, cases)),
        "ready students told to repeat": _told_to_repeat(ready),
        "not-ready students told to repeat": _told_to_repeat(unready),
        "Brier score, days 14, 21 and 28": fmean((said - true) ** 2 for said, true in checked),
        "calibration error, five bins": calibration_error(checked),
        "base rate": fmean(true for _, true in checked),
    }


def calibration(checked: Sequence[tuple[float, bool]]) -> list[tuple[float, float, int]]:
    """Put what was said into bins: mean said, share true, how many; empty bins are left out."""
    bins: list[list[tuple[float, bool]]] = [[] for _ in range(BINS)]
    for said, true in checked:
        bins[min(BINS - 1, int(said * BINS))].append((said, true))
    return [
        (fmean(said for said, _ in found), fmean(true for _, true in found), len(found))
        for found in bins
        if found
    ]


def calibration_error(checked: Sequence[tuple[float, bool]]) -> float:
    """Return the mean gap between said and true over the bins, weighed by their size."""
    return sum(abs(said - true) * count for said, true, count in calibration(checked)) / len(
        checked
    )


def outcomes(cases: Sequence[Case]) -> dict[Outcome, float]:
    """Return the share of student-days of each outcome."""
    said = [verdict.outcome for case in cases for verdict in case.verdicts]
    return {outcome: said.count(outcome) / len(said) for outcome in Outcome}


def _share(found: Sequence[bool]) -> float | None:
    return fmean(found) if found else None


def _told_to_repeat(cases: Sequence[Case]) -> float | None:
    if any(case.verdicts[-1].outcome is None for case in cases):
        return None
    return _share([case.verdicts[-1].outcome is Outcome.REPEAT for case in cases])


def _after_pain(case: Case) -> int:
    """Count the days said to be ready from a pain filed to seven days later."""
    return sum(
        verdict.ready
        for day, verdict in enumerate(case.verdicts)
        if any(pain <= day <= pain + WEEK for pain in case.person.pains)
    )


def _changes(case: Case) -> int:
    return sum(before.ready != after.ready for before, after in pairwise(case.verdicts))
