"""What invented students and their teachers report: the evidence an assessment is given.

Conventions: a rating cuts the logit of the skill, moved by whoever rates, at the cuts of
simulator.json. Own ratings lean towards the middle, run above or below the skill, differ for good
by criterion, and by the day's mood; a teacher's have a small lasting bias, a mood and noise.
"""

from random import Random
from typing import Any

from progress.engine.check_in import Criterion, Discomfort, Register
from progress.engine.evidence import (
    RATING_LIMITS,
    AssignedBlock,
    CheckIn,
    Evidence,
    Lesson,
    Ratings,
)
from tests.evaluation.people import FIRST_DAY, Person, logit, the_date

NOTES = (22, 32)
BATCH_DAYS = (4, 7)
USUAL_MISS = 0.02
MILD = 0.02
MINUTES = 7.0


def evidence(person: Person, random: Random, parameters: dict[str, Any]) -> Evidence:
    """Let a student check in and a teacher listen for a block."""
    block = AssignedBlock(
        start=FIRST_DAY,
        days=person.days,
        notes=random.randint(*NOTES),
        hold=8,
        rest=8,
        tempo=60,
        top_target=12,
        child=person.is_child,
    )
    return Evidence(
        block=block,
        check_ins=tuple(_check_ins(person, random, parameters)),
        lessons=tuple(_lessons(person, random, parameters)),
    )


def _check_ins(person: Person, random: Random, parameters: dict[str, Any]) -> list[CheckIn]:
    traits = person.traits
    own = _Own(traits, random, parameters)
    filed_days = [day for day in person.played if random.random() < traits.get("file", 1.0)]
    batches = _batches(person.days, random) if traits.get("backfill") else None
    rows = []
    for day in filed_days:
        filed = day if batches is None else min(batch for batch in batches if batch >= day)
        # A batch is written from the last day's memory: one answer for all of its days.
        rated_day = day if batches is None else max(d for d in filed_days if d <= filed)
        rows.append(
            _row(person, day, filed, own.of_day(person.skill[rated_day], rated_day), random)
        )
    return rows


def _row(person: Person, day: int, filed: int, ratings: Ratings, random: Random) -> CheckIn:
    hurts = day in person.pains
    base = 6 if person.traits.get("pain") else 4.5
    return CheckIn(
        day=the_date(day),
        filed=the_date(filed),
        ratings=ratings,
        effort=min(10, max(1, round(random.gauss(base, 1.2)))),
        minutes=max(2.0, random.gauss(MINUTES, 1.0)),
        completed=min(1.0, random.gauss(0.96, 0.06)),
        discomfort=Discomfort.PAIN if hurts else _discomfort(random),
        high=round(random.gauss(11, 1.5)),
        trouble=frozenset(name for name in Register if random.random() < 0.3),
    )


def _discomfort(random: Random) -> Discomfort:
    return Discomfort.MILD if random.random() < MILD else Discomfort.NONE


def _lessons(person: Person, random: Random, parameters: dict[str, Any]) -> list[Lesson]:
    lasting = random.gauss(0, parameters["teacher_bias_sd"]) + parameters.get("teacher_shift", 0.0)
    found = []
    for day in person.lesson_days:
        mood = lasting + random.gauss(0, parameters["teacher_common"])
        heard = [value + mood + _noise(random, parameters) for value in person.skill[day]]
        found.append(Lesson(day=the_date(day), ratings=_four(heard, parameters["cuts"])))
    return found


def _noise(random: Random, parameters: dict[str, Any]) -> float:
    return random.gauss(0, parameters["teacher_noise"])


class _Own:
    """How one student rates."""

    def __init__(self, traits: dict[str, Any], random: Random, parameters: dict[str, Any]) -> None:
        self.traits, self.random, self.parameters = traits, random, parameters
        self.bias = random.gauss(*traits["bias"]) + parameters["bias_shift"]
        self.apart = [random.gauss(0, parameters["self_crit_dev"]) for _ in Criterion]
        self.by_day: dict[int, Ratings] = {}

    def of_day(self, skill: tuple[float, ...], day: int) -> Ratings:
        """Return the four ratings of a day, the same ones when asked again."""
        if day not in self.by_day:
            self.by_day[day] = self._rate(skill, day)
        return self.by_day[day]

    def _rate(self, skill: tuple[float, ...], day: int) -> Ratings:
        random, parameters = self.random, self.parameters
        if "straight" in self.traits:
            same = self.traits["straight"]
            return same, same, same, same
        slope = self.traits.get("slope", parameters["self_slope"])
        centre = parameters["slope_centre"]
        mood = random.gauss(0, parameters["self_mood"]) + parameters["bias_drift"] * day
        felt = [
            centre
            + slope * (value - centre)
            + self.bias
            + apart
            + mood
            + random.gauss(0, parameters["self_noise"])
            for value, apart in zip(skill, self.apart, strict=True)
        ]
        ratings = _four(felt, parameters["cuts"])
        highest = self.traits.get("cap", RATING_LIMITS[1])
        miss = self.traits.get("miss", USUAL_MISS)
        first, second, third, fourth = (
            None if random.random() < miss else min(rating or 1, highest) for rating in ratings
        )
        return first, second, third, fourth


def _four(values: list[float], cuts: list[float]) -> Ratings:
    first, second, third, fourth = (
        1 + sum(value >= logit(cut) for cut in cuts) for value in values
    )
    return first, second, third, fourth


def _batches(days: int, random: Random) -> list[int]:
    """Choose the days on which a batch is written; the last one after everything."""
    found = [random.randint(*BATCH_DAYS)]
    while found[-1] < days:
        found.append(found[-1] + random.randint(*BATCH_DAYS))
    return found
