"""One kind sentence about a month, worked out from what the student answered.

Conventions: answers are those of the check-in, 1 to 5 for each of the four, None
where a question was not answered; one entry a day, the earliest first. The result is codes with
figures, as an assessment's reasons are; the sentence is the template's. It only ever tells of a
rise: what fell is for the lesson. It compares a student with nobody but themselves, and it counts
no days in a row.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from progress.engine.check_in import Criterion

LEAST_ANSWERS = 4  # on each side of a comparison
LEAST_RISE = 0.5  # of the five answers


class Code(StrEnum):
    """What a month's kind words tell."""

    DAYS = "days"  # days with a check-in
    ATTACK = "attack"  # how far the mean answer rose, for this and the three below
    SOUND = "sound"
    EVENNESS = "evenness"
    RELEASE = "release"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """The four answers of one day, 1 to 5, None where a question was not answered."""

    attack: int | None
    sound: int | None
    evenness: int | None
    release: int | None


@dataclass(frozen=True, slots=True)
class KindWord:
    """One thing to say and its figure; no sentence."""

    code: Code
    figure: float


def kind_words(days: Sequence[Answers]) -> tuple[KindWord, ...]:
    """Say how many days there were, and which of the four rose most, if one did.

    For each of the four the mean of the first third of its answers is held against that of the
    last third, where both have at least four; a rise of half a point or more is worth a word. Of
    equal rises the one that comes first in a note is told. No days: nothing to say.
    """
    if not days:
        return ()
    told = KindWord(Code.DAYS, len(days))
    rises = [KindWord(Code(criterion), _rise(days, criterion)) for criterion in Criterion]
    best = max(rises, key=lambda word: word.figure)
    return (told, best) if best.figure >= LEAST_RISE else (told,)


def _rise(days: Sequence[Answers], criterion: Criterion) -> float:
    """Hold the last third of the answers against the first; too few answers rose by nothing."""
    told: list[int | None] = [getattr(day, criterion) for day in days]
    answers = [answer for answer in told if answer is not None]
    third = len(answers) // 3
    if third < LEAST_ANSWERS:
        return 0.0
    # The sums are whole numbers, so half a point is half a point.
    return (sum(answers[-third:]) - sum(answers[:third])) / third
