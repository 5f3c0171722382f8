"""What the answers of a check-in mean.

Conventions: a rating 1 to 5 says out of ten notes how many met the question; effort is stored 2, 4,
6, 8, 10; None is "not answered" and never stands for "fine". The teacher's lesson rating has the
very same four questions and numbers.
"""

from enum import IntEnum, StrEnum

LOW_REGISTER_BELOW = -6
HIGH_REGISTER_ABOVE = 6


class Criterion(StrEnum):
    """The four things to listen for, in the order of a note."""

    ATTACK = "attack"
    SOUND = "sound"
    EVENNESS = "evenness"
    RELEASE = "release"


class Rating(IntEnum):
    """How many notes of ten: 0 to 3, 4 or 5, 6 or 7, 8 or 9, all ten."""

    FEW = 1
    HALF = 2
    MANY = 3
    MOST = 4
    ALL = 5

    @property
    def of_ten(self) -> tuple[int, int]:
        """The least and the most notes of ten that this answer stands for."""
        return {1: (0, 3), 2: (4, 5), 3: (6, 7), 4: (8, 9), 5: (10, 10)}[self.value]


class Effort(IntEnum):
    """How hard it was: very easy, easy, some work, hard, not one more note."""

    VERY_EASY = 2
    EASY = 4
    SOME_WORK = 6
    HARD = 8
    NOT_ONE_MORE = 10


class Discomfort(StrEnum):
    """Whether something hurt, and how much: a little is mild, a lot is pain."""

    NONE = "none"
    MILD = "mild"
    PAIN = "pain"


class Stopped(StrEnum):
    """Why the walk up ended where it did."""

    SOUND = "sound"
    TIRED = "tired"
    TIME = "time"


class Register(StrEnum):
    """Where in the range a note lies, counted from the start note."""

    LOW = "low"
    MIDDLE = "middle"
    HIGH = "high"


class NoSession(StrEnum):
    """Why there was no session on a day."""

    NO_TIME = "no time"
    ILL = "ill"
    AWAY = "away"
    ELSEWHERE = "elsewhere"


class Source(StrEnum):
    """Who wrote a check-in down."""

    PHONE = "phone"
    TEACHER = "teacher"


def register_of(note: int, start_note: int) -> Register:
    """Say in which register a note lies: low is more than six half steps below the start note."""
    distance = note - start_note
    if distance < LOW_REGISTER_BELOW:
        return Register.LOW
    return Register.HIGH if distance > HIGH_REGISTER_ABOVE else Register.MIDDLE
