"""Where each of the four criteria stands, apart from the level they share.

Conventions: sums are in the order of Criterion; an offset is what a criterion stands above the
level, on the scale 1 to 5. The chance of a criterion is the chance that it is at the goal.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from progress.engine.check_in import Criterion
from progress.engine.evidence import RATING_LIMITS, Ratings
from progress.engine.level import Level
from progress.engine.parameters import Parameters
from progress.engine.statistics import normal_below

LEAST_FOR_OFFSETS = 2


@dataclass(frozen=True, slots=True)
class Heard:
    """The ratings of one day, each criterion's mean over the day's rows, None if not answered."""

    ratings: tuple[float | None, ...]
    mean: float
    answered: int
    share_at_ends: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionReading:
    """One criterion on a day: level, standard deviation and the chance that it is at the goal."""

    criterion: Criterion
    level: float
    deviation: float
    chance: float


@dataclass(frozen=True, slots=True)
class Offsets:
    """Faded sums and counts of (rating - mean of the four), own and the teacher's."""

    own_sums: tuple[float, ...] = (0.0,) * len(Criterion)
    own_counts: tuple[float, ...] = (0.0,) * len(Criterion)
    lesson_sums: tuple[float, ...] = (0.0,) * len(Criterion)
    lesson_counts: tuple[float, ...] = (0.0,) * len(Criterion)

    def faded(self, factor: float) -> "Offsets":
        """Let a day pass: what set the criteria apart counts less."""
        return Offsets(
            tuple(value * factor for value in self.own_sums),
            tuple(value * factor for value in self.own_counts),
            tuple(value * factor for value in self.lesson_sums),
            tuple(value * factor for value in self.lesson_counts),
        )

    def with_own(self, heard: Heard) -> "Offsets":
        """Take in a day's own ratings; a single one sets nothing apart."""
        if heard.answered < LEAST_FOR_OFFSETS:
            return self
        sums, counts = _added(self.own_sums, self.own_counts, heard)
        return Offsets(sums, counts, self.lesson_sums, self.lesson_counts)

    def with_lesson(self, heard: Heard) -> "Offsets":
        """Take in a lesson's ratings; a single one sets nothing apart."""
        if heard.answered < LEAST_FOR_OFFSETS:
            return self
        sums, counts = _added(self.lesson_sums, self.lesson_counts, heard)
        return Offsets(self.own_sums, self.own_counts, sums, counts)


def heard(rows: Iterable[Ratings]) -> Heard | None:
    """Put the rows of one day together, each criterion averaged first; None without an answer."""
    columns = list(zip(*rows, strict=True))
    ratings = tuple(_mean_of_answers(column) for column in columns)
    answers = [rating for rating in ratings if rating is not None]
    if not answers:
        return None
    at_ends = sum(answer in RATING_LIMITS for answer in answers)
    return Heard(ratings, sum(answers) / len(answers), len(answers), at_ends / len(answers))


def readings(
    level: Level, offsets: Offsets, parameters: Parameters, *, own_count: bool
) -> tuple[CriterionReading, ...]:
    """Read the four criteria; ``own_count`` False leaves the own ratings out of the offsets."""
    lesson = 1.0 / parameters.lesson_rating_variance
    prior = 1.0 / parameters.offset_variance
    raw = []
    variances = []
    for place, count in enumerate(offsets.own_counts):
        known = prior + offsets.lesson_counts[place] * lesson
        pull = offsets.lesson_sums[place] * lesson
        if own_count and count > 0.0:
            own = 1.0 / (
                parameters.own_offset_bias_variance + parameters.own_rating_variance / count
            )
            known += own
            pull += own * offsets.own_sums[place] / count
        raw.append(pull / known)
        variances.append(1.0 / known)
    middle = sum(raw) / len(raw)
    found = []
    for criterion, offset, variance in zip(Criterion, raw, variances, strict=True):
        reached = level.mean + offset - middle
        deviation = math.sqrt(level.variance + variance)
        found.append(
            CriterionReading(
                criterion=criterion,
                level=reached,
                deviation=deviation,
                chance=chance_at(reached, deviation, parameters.goal),
            )
        )
    return tuple(found)


def chance_at(level: float, deviation: float, goal: float) -> float:
    """Return the chance that a criterion is at the goal, given its level and its doubt."""
    return normal_below((level - goal) / deviation)


def weakest(found: Sequence[CriterionReading]) -> CriterionReading:
    """Return the criterion least likely at the goal; of several alike the first in a note."""
    return min(found, key=lambda reading: reading.chance)


def _mean_of_answers(column: Sequence[int | None]) -> float | None:
    answers = [answer for answer in column if answer is not None]
    return sum(answers) / len(answers) if answers else None


def _added(
    sums: Sequence[float], counts: Sequence[float], heard_today: Heard
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    new_sums = list(sums)
    new_counts = list(counts)
    for place, rating in enumerate(heard_today.ratings):
        if rating is not None:
            new_sums[place] += rating - heard_today.mean
            new_counts[place] += 1.0
    return tuple(new_sums), tuple(new_counts)
