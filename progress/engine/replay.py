"""A block gone through day by day, from what was known on the day asked.

Conventions: nothing is stored; a day's standing follows from the facts known on the day asked. A
fact that comes in later makes the replay begin again from its day, otherwise the next day follows
the last one, so that a whole month takes one pass. After the last day of the block the standing
stays.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from progress.engine.check_in import Criterion, Discomfort
from progress.engine.criteria import CriterionReading, Heard, Offsets, heard, readings, weakest
from progress.engine.evidence import AssignedBlock, CheckIn, Evidence, Lesson, OpenThing
from progress.engine.level import Level, next_day, with_lesson, with_own
from progress.engine.parameters import Parameters
from progress.engine.reasons import Code, Reason

ONE_DAY = timedelta(days=1)
RATING_NUMBERS = 5
NOTHING_HEARD = Offsets()
# A lesson with a 4 on each of the four: 8 or 9 notes of ten.
FOUR = 4.0
ALL_FOURS = Heard((FOUR,) * len(Criterion), FOUR, len(Criterion), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known on a day, rows in order of their day; rows of days to come are left out."""

    block: AssignedBlock
    day: date
    check_ins: tuple[CheckIn, ...]
    lessons: tuple[Lesson, ...]
    pains: tuple[date, ...]
    open_things: tuple[OpenThing, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where the replay stands at the end of ``day``; the first day of the evidence is number 1.

    ``heard`` is the level by the teacher's ratings alone, ``tally`` how often each number 1 to 5
    was given in own ratings, ``is_on`` whether "may be ready" holds.
    """

    first: date
    day: date
    level: Level
    heard: Level
    offsets: Offsets = NOTHING_HEARD
    usable_days: int = 0
    last_usable: date | None = None
    lessons: int = 0
    last_lesson: date | None = None
    rated_days: int = 0
    tally: tuple[int, ...] = (0,) * RATING_NUMBERS
    is_on: bool = False

    @property
    def number_of_day(self) -> int:
        """Count days from 1 on the first day of the evidence; 0 before it."""
        return max(0, (self.day - self.first).days + 1)

    @property
    def same_share(self) -> float:
        """The share of the own ratings that are one and the same number; 0 without any."""
        return max(self.tally) / sum(self.tally) if any(self.tally) else 0.0

    def is_straight(self, parameters: Parameters) -> bool:
        """Whether the own ratings are so alike that only the teacher's are used."""
        enough = self.rated_days >= parameters.straight_days
        return enough and self.same_share >= parameters.straight_share

    def criteria(self, parameters: Parameters) -> tuple[CriterionReading, ...]:
        """Read the four criteria."""
        straight = self.is_straight(parameters)
        level = self.heard if straight else self.level
        return readings(level, self.offsets, parameters, own_count=not straight)

    def chance_after_fours(self, parameters: Parameters) -> float:
        """Return the chance after a lesson on this day with a 4 on each of the four."""
        straight = self.is_straight(parameters)
        level = _hear(self.heard if straight else self.level, ALL_FOURS, parameters)
        offsets = self.offsets.with_lesson(ALL_FOURS)
        return weakest(readings(level, offsets, parameters, own_count=not straight)).chance

    def missing(self, parameters: Parameters) -> tuple[Reason, ...]:
        """Say which evidence is missing for a reading; empty when none is."""
        number = self.number_of_day
        lesson_age = _days_between(self.last_lesson, self.day)
        stale = _days_between(self.last_usable, self.day) or 0
        found = (
            (number <= parameters.days_before_reading, Code.EARLY, number),
            (self.usable_days < parameters.least_usable_days, Code.FEW, self.usable_days),
            (
                lesson_age is None or lesson_age > parameters.lesson_age_days,
                Code.NO_LESSON,
                self.lessons,
            ),
            # Without any usable check-in FEW says 0; no day stands for "never".
            (stale > parameters.fresh_days, Code.STALE, stale),
        )
        return tuple(Reason(code, figure) for fails, code, figure in found if fails)


def standings(
    evidence: Evidence, days: Sequence[date], parameters: Parameters
) -> Iterator[tuple[Known, Standing]]:
    """Give what is known and where it stands on each of the days, which must ascend."""
    block = evidence.block
    facts = _Facts.of(evidence)
    path: list[Standing] = []
    before: date | None = None
    for day in days:
        known = facts.known_on(day)
        first = block.first_day_on(day)
        if before is None or path[0].first != first:
            path = [_fresh(block, first, parameters)]
        else:
            # A late row of day n undoes all from day n on; the fresh standing stays.
            late = facts.earliest_come_in(before, day)
            del path[max(1, (late - first).days + 1) :]
        before = day
        last = min(day, block.last_day)
        while path[-1].day < last:
            path.append(_next(path[-1], known, parameters))
        yield known, path[-1]


def in_pain(pains: Sequence[date], day: date, parameters: Parameters) -> bool:
    """Whether a day lies on a day of pain or in the days of rest after it."""
    return any(0 <= (day - pain).days <= parameters.pain_days for pain in pains)


def is_late(row: CheckIn, parameters: Parameters) -> bool:
    """Whether a check-in was written too long after the practice to count as a rating."""
    return (row.filed - row.day).days > parameters.late_after_days


@dataclass(frozen=True, slots=True)
class _Facts:
    """The rows of a block in order, each with the day from which it counts."""

    evidence: Evidence
    check_ins: tuple[tuple[date, CheckIn], ...]
    lessons: tuple[tuple[date, Lesson], ...]

    @classmethod
    def of(cls, evidence: Evidence) -> "_Facts":
        check_ins = sorted(evidence.check_ins, key=_order)
        lessons = sorted(evidence.lessons, key=lambda row: row.day)
        return cls(
            evidence,
            tuple((row.known_on, row) for row in check_ins),
            tuple((row.known_on, row) for row in lessons),
        )

    def known_on(self, day: date) -> Known:
        """Leave out what was not known on a day."""
        check_ins = tuple(row for known_on, row in self.check_ins if known_on <= day)
        return Known(
            block=self.evidence.block,
            day=day,
            check_ins=check_ins,
            lessons=tuple(row for known_on, row in self.lessons if known_on <= day),
            pains=tuple(row.day for row in check_ins if row.discomfort is Discomfort.PAIN),
            open_things=tuple(row for row in self.evidence.open_things if row.is_open_on(day)),
        )

    def earliest_come_in(self, before: date, day: date) -> date:
        """Return the earliest day of practice or lesson that became known after ``before``."""
        come = [row.day for known_on, row in self.check_ins if before < known_on <= day]
        come += [row.day for known_on, row in self.lessons if before < known_on <= day]
        return min(come, default=date.max)


def _fresh(block: AssignedBlock, first: date, parameters: Parameters) -> Standing:
    bias = parameters.first_bias_child if block.child else parameters.first_bias
    level, variance = parameters.first_level, parameters.first_level_variance
    return Standing(
        first=first,
        day=first - ONE_DAY,
        level=Level(level, variance, bias, parameters.first_bias_variance),
        heard=Level(level, variance, 0.0, 0.0),
    )


def _next(before: Standing, known: Known, parameters: Parameters) -> Standing:
    """Let a day pass and take in its rows, check-ins before lessons."""
    day = before.day + ONE_DAY
    check_ins = [row for row in known.check_ins if row.day == day]
    lessons = [row for row in known.lessons if row.day == day]
    level, teacher, offsets = before.level, before.heard, before.offsets
    if before.number_of_day > 0:
        level = next_day(level, parameters.drift_variance_per_day)
        teacher = next_day(teacher, parameters.drift_variance_per_day)
        offsets = offsets.faded(0.5 ** (1.0 / parameters.offset_half_life_days))
    own = heard(row.ratings for row in check_ins if not is_late(row, parameters))
    if own is not None:
        level = _answer(level, own, parameters)
        offsets = offsets.with_own(own)
    lesson = heard(row.ratings for row in lessons)
    if lesson is not None:
        level = _hear(level, lesson, parameters)
        teacher = _hear(teacher, lesson, parameters)
        offsets = offsets.with_lesson(lesson)
    passed = Standing(
        before.first,
        day,
        level,
        teacher,
        offsets,
        before.usable_days + (own is not None),
        before.last_usable if own is None else day,
        before.lessons + sum(row.is_rated for row in lessons),
        before.last_lesson if lesson is None else day,
        before.rated_days + any(row.is_rated for row in check_ins),
        _tally(before.tally, check_ins),
    )
    return _switched(passed, known.pains, parameters, was_on=before.is_on)


def _switched(
    standing: Standing, pains: Sequence[date], parameters: Parameters, *, was_on: bool
) -> Standing:
    """Switch "may be ready" on or off; pain and missing evidence switch it off."""
    if standing.missing(parameters) or in_pain(pains, standing.day, parameters):
        return standing
    chance = weakest(standing.criteria(parameters)).chance
    if chance >= (parameters.leave if was_on else parameters.enter):
        return replace(standing, is_on=True)
    return standing


def _answer(level: Level, own: Heard, parameters: Parameters) -> Level:
    noise = (
        parameters.own_shared_variance
        + parameters.own_rating_variance / own.answered
        + parameters.end_of_scale_variance * own.share_at_ends
    )
    return with_own(level, own.mean, noise)


def _hear(level: Level, lesson: Heard, parameters: Parameters) -> Level:
    # Half as much as for own ratings: a teacher's 1 or 5 is cut off too, but rarely meant loosely.
    noise = (
        parameters.lesson_shared_variance
        + parameters.lesson_rating_variance / lesson.answered
        + parameters.end_of_scale_variance * lesson.share_at_ends / 2
    )
    return with_lesson(level, lesson.mean, noise)


def _tally(before: tuple[int, ...], check_ins: Sequence[CheckIn]) -> tuple[int, ...]:
    if not check_ins:
        return before
    counts = list(before)
    for row in check_ins:
        for rating in row.ratings:
            if rating is not None:
                counts[rating - 1] += 1
    return tuple(counts)


def _days_between(earlier: date | None, later: date) -> int | None:
    return None if earlier is None else (later - earlier).days


def _order(row: CheckIn) -> tuple[object, ...]:
    """Order by day; of two rows on one day by what they say, never by where they stood."""
    answers = (*row.ratings, row.effort, row.minutes, row.completed, row.high, row.planned)
    return (
        row.day,
        row.known_on,
        row.filed,
        tuple(-math.inf if answer is None else answer for answer in answers),
        row.discomfort or "",
        sorted(row.trouble or ()),
        row.trouble is None,
    )
