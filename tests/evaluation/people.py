"""Invented students whose true skill is known: what the assessment is measured on.

Conventions: skill is the chance that one note meets a criterion on a day, kept as a logit; a day is
counted from 0 on the first day of the block. Figures and profiles stand in simulator.json; where it
names a thing without a figure (how pain comes, how ratings of effort lie) the figure stands here.
Every value is an assumption; none was measured on real people.
"""

import json
import math
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from progress.engine.check_in import Criterion

SIMULATOR: dict[str, Any] = json.loads((Path(__file__).parent / "simulator.json").read_text())
PARAMETERS: dict[str, Any] = SIMULATOR["parameters"]
PROFILES: dict[str, dict[str, Any]] = SIMULATOR["profiles"]
BEYOND: int = SIMULATOR["days_of_truth_beyond_block"]
SUSTAIN: int = SIMULATOR["sustain_days"]

FIRST_DAY = date(2026, 3, 2)
BLOCK_DAYS = (28, 31)
KEPT = 0.92
WEEK = 7
PLATEAU = 0.81
# Half of the students are heard every week, which makes four or five lessons; three in ten at the
# first and third lesson only, one in five at the second.
WEEKS_HEARD = ((0, 1, 2, 3, 4), (0, 2), (1,))
WEEKS_HEARD_WEIGHTS = (5, 3, 2)
# An overreaching student hurts the likelier the more days of the last seven were played.
PAIN_A_SESSION_ABOVE_FOUR = 0.02
PAIN_LOWERS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A student as they are: skill of each criterion on each day, and what they played.

    ``ready`` says for each day of the block and a week more whether the mean skill of the seven
    days from it is at the bar on all four; ``pains`` are days played with pain.
    """

    profile: str
    traits: dict[str, Any]
    days: int
    skill: tuple[tuple[float, ...], ...]
    played: tuple[int, ...]
    pains: frozenset[int]
    lesson_days: tuple[int, ...]
    ready: tuple[bool, ...]

    @property
    def is_child(self) -> bool:
        """Whether the student is a child."""
        return bool(self.traits.get("child"))


def the_date(number: int) -> date:
    """Return the date of a day counted from 0."""
    return FIRST_DAY + timedelta(days=number)


def logit(share: float) -> float:
    """Return the log of the odds."""
    return math.log(share / (1 - share))


def share(value: float) -> float:
    """Return the share of a logit."""
    return 1 / (1 + math.exp(-value))


def person(profile: str, random: Random, parameters: dict[str, Any]) -> Person:
    """Invent a student of a profile."""
    traits = PROFILES[profile]
    days = random.randint(*BLOCK_DAYS)
    horizon = days + BEYOND
    played = _practice(traits, days, horizon, random)
    path, pains = _path(traits, horizon, played, random, parameters)
    skill = _by_criterion(traits, path, random, parameters)
    if profile == "plateau":
        skill = [[min(value, logit(PLATEAU)) for value in row] for row in skill]
    first_lesson = random.randrange(WEEK)
    heard = random.choices(WEEKS_HEARD, WEEKS_HEARD_WEIGHTS)[0]
    lesson_days = [first_lesson + WEEK * week for week in heard]
    return Person(
        profile=profile,
        traits=traits,
        days=days,
        skill=tuple(tuple(row) for row in skill),
        played=tuple(day for day in played if day < days),
        pains=frozenset(pain for pain in pains if pain < days),
        lesson_days=tuple(day for day in lesson_days if day < days),
        ready=_ready(skill, days + WEEK + 1, parameters["goal"]),
    )


def _practice(traits: dict[str, Any], days: int, horizon: int, random: Random) -> list[int]:
    """Choose the days played: fixed weekdays, most of them kept, none in a gap."""
    weekdays = set(random.sample(range(WEEK), random.randint(*traits["days"])))
    gap = range(0)
    if "gap" in traits:
        length = random.randint(*traits["gap"])
        begins = random.randint(5, days - length - 3)
        gap = range(begins, begins + length)
    return [
        day
        for day in range(horizon)
        if day % WEEK in weekdays and day not in gap and random.random() < KEPT
    ]


def _path(
    traits: dict[str, Any],
    horizon: int,
    played: list[int],
    random: Random,
    parameters: dict[str, Any],
) -> tuple[list[float], list[int]]:
    """Walk the skill all criteria share, and the days of pain."""
    begins, ends = logit(random.uniform(*traits["p0"])), logit(random.uniform(*traits["pinf"]))
    rate = random.uniform(*traits["k"])
    drift = random.uniform(*traits.get("drift", (0.0, 0.0)))
    sessions, idle, lost = 0, 0, 0.0
    path: list[float] = []
    pains: list[int] = []
    on_days = set(played)
    for day in range(horizon):
        hurts = any(0 <= day - pain <= WEEK for pain in pains)
        learned = ends + (begins - ends) * math.exp(-rate * sessions)
        path.append(learned + drift * day - lost - (PAIN_LOWERS if hurts else 0.0))
        if day in on_days:
            sessions, idle = sessions + 1, 0
            recent = sum(other in on_days for other in range(day - WEEK + 1, day + 1))
            chance = PAIN_A_SESSION_ABOVE_FOUR * max(0, recent - 4)
            if traits.get("pain") and random.random() < chance:
                pains.append(day)
        else:
            idle += 1
            lost += parameters["forget_rate"] if idle > parameters["forget_after"] else 0.0
    return path, pains


def _by_criterion(
    traits: dict[str, Any], path: list[float], random: Random, parameters: dict[str, Any]
) -> list[list[float]]:
    """Set the four criteria apart for good, and let each wander from day to day."""
    offsets = [random.gauss(0, parameters["crit_offset"]) for _ in Criterion]
    if "weak" in traits:
        offsets[random.randrange(len(offsets))] -= random.uniform(*traits["weak"])
    spread, memory = parameters["wander_sd"], parameters["wander_rho"]
    wander = [random.gauss(0, spread) for _ in Criterion]
    skill = []
    for value in path:
        skill.append([value + offset + away for offset, away in zip(offsets, wander, strict=True)])
        fresh = spread * math.sqrt(1 - memory**2)
        wander = [memory * away + random.gauss(0, fresh) for away in wander]
    return skill


def _ready(skill: list[list[float]], days: int, goal: float) -> tuple[bool, ...]:
    found = []
    for day in range(days):
        window = skill[day : day + SUSTAIN]
        means = [
            sum(share(row[place]) for row in window) / SUSTAIN for place in range(len(Criterion))
        ]
        found.append(min(means) >= goal)
    return tuple(found)
