"""Invented months for the properties: a block, its check-ins, lessons and what is open.

A month comes from the number of a seed, so that a failing one is named by it. Ratings lean to one
number a month, mostly a good one, so that a fair part comes to "may be ready" with a proposal;
test_readiness_properties.py holds them to that. Rows come on one day twice, late, out of order,
received later, half answered, before a change of the mouth and after the end of the block.
"""

from datetime import date, timedelta
from random import Random

from hypothesis import strategies as st

from progress.engine.check_in import Discomfort, Register
from progress.engine.evidence import (
    UNANSWERED,
    AssignedBlock,
    CheckIn,
    Evidence,
    Lesson,
    OpenKind,
    OpenThing,
    Ratings,
)
from routines.engine.variants import Aim

START = date(2026, 3, 2)
AFTER_THE_END = 12


def histories() -> st.SearchStrategy[Evidence]:
    """Draw months."""
    return st.integers(0, 2**48).map(a_month)


def blocks() -> st.SearchStrategy[AssignedBlock]:
    """Draw blocks with any counts the program allows."""
    return st.integers(0, 2**48).map(lambda seed: _block(_random(seed)))


def a_month(seed: int) -> Evidence:
    """Invent the month of a seed."""
    random = _random(seed)
    usual = random.choice([2, 3, 4, 4, 4, 5])
    diligence = random.choice([0.1, 0.5, 0.8, 0.9])
    trouble = random.choice([0.0, 0.0, 0.03, 0.2])
    block = _block(random)
    practised = [
        day
        for day in range(block.days + AFTER_THE_END)
        for _ in range(2 if random.random() < 0.05 else 1)
        if random.random() < diligence
    ]
    heard = random.sample(range(block.days), random.randint(0, 5))
    check_ins = [_check_in(random, day, usual, trouble) for day in practised]
    random.shuffle(check_ins)
    return Evidence(
        block=block,
        check_ins=tuple(check_ins),
        lessons=tuple(_lesson(random, day, usual) for day in heard),
        open_things=tuple(_open_thing(random) for _ in range(random.choice([0, 0, 0, 1, 2]))),
    )


def _random(seed: int) -> Random:
    return Random(seed)  # noqa: S311 - invented months, no secrets


def _day(number: int) -> date:
    return START + timedelta(days=number)


def _block(random: Random) -> AssignedBlock:
    usual = random.random() < 0.5
    return AssignedBlock(
        start=START,
        days=random.randint(20, 31),
        notes=random.choice([27, 27, 12, 39, 24.5]),
        hold=8 if usual else random.randint(2, 32),
        rest=8 if usual else random.randint(0, 32),
        tempo=random.choice([60, 60, 20, 66, 72, 97, 240]),
        top_target=random.choice([None, 0, 12]),
        aim=random.choice([None, None, *Aim]),
        child=random.random() < 0.3,
        contrasts=random.random() < 0.2,
        since=_day(random.randint(0, 24)) if random.random() < 0.15 else None,
    )


def _check_in(random: Random, number: int, usual: int, trouble: float) -> CheckIn:
    filed = number + random.choice([0, 0, 0, 0, 0, 0, 0, 1, 2, 3, 5])
    received = filed + random.choice([0, 0, 0, 0, 0, 1, 4, 9])
    hurts = random.random() < trouble
    calm = [Discomfort.NONE, Discomfort.NONE, None]
    return CheckIn(
        day=_day(number),
        filed=_day(filed),
        received=None if received == filed else _day(received),
        ratings=UNANSWERED if random.random() < 0.05 else _ratings(random, usual),
        effort=random.choice([None, 2, 2, 4, 4, 6, 8, 10]),
        minutes=random.choice([None, 6, 8, 10, 30]),
        completed=random.choice([None, 1.0, 1.0, 1.0, 0.95, 0.7]),
        discomfort=random.choice([Discomfort.MILD, Discomfort.PAIN] if hurts else calm),
        high=random.choice([None, -3, 7, 12, 13]),
        trouble=random.choice([None, frozenset(), frozenset(random.sample(list(Register), 2))]),
        planned=random.choice([None, None, None, 60.0, 180.0, 900.0]),
    )


def _lesson(random: Random, number: int, usual: int) -> Lesson:
    waited = random.choice([0, 0, 0, 2, 6])
    return Lesson(
        day=_day(number),
        ratings=_ratings(random, usual),
        filed=_day(number + waited) if waited else None,
    )


def _open_thing(random: Random) -> OpenThing:
    begins = random.randint(0, 40)
    lasts = random.choice([None, 0, 3, 10])
    return OpenThing(
        kind=random.choice(list(OpenKind)),
        begins=_day(begins),
        ends=None if lasts is None else _day(begins + lasts),
    )


def _ratings(random: Random, usual: int) -> Ratings:
    around = [usual - 1, usual, usual, usual, usual, usual + 1]
    answers = [min(5, random.choice(around)) for _ in range(4)]
    first, second, third, fourth = (
        None if random.random() < 0.05 else answer for answer in answers
    )
    return first, second, third, fourth
