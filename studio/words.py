"""The words that stand in the studio's columns, and how each is said on a screen."""

from datetime import date
from enum import StrEnum


class Grade(StrEnum):
    """How far a student has come, for ranges and advice."""

    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    OPEN = "open"


class Role(StrEnum):
    """What a member of a studio may do."""

    TEACHER = "teacher"
    COVER = "cover"


class InterruptionKind(StrEnum):
    """What keeps a student from the plan for a while."""

    AWAY = "away"
    ILL = "ill"
    MOUTH = "mouth"
    LIGHT = "light"


# What a student cannot play in: these days move the end of a block once a teacher confirms them.
PAUSES = frozenset({InterruptionKind.AWAY, InterruptionKind.ILL})


class Place(StrEnum):
    """Where something hurt."""

    LIPS = "lips"
    TEETH = "teeth"
    JAW = "jaw"
    NECK = "neck"
    CHEST = "chest"
    BACK = "back"
    HANDS = "hands"
    HEAD = "head"
    DIZZY = "dizzy"
    OTHER = "other"


class HowMuch(StrEnum):
    """How much it hurt: a little is stored as mild, a lot as pain."""

    MILD = "mild"
    PAIN = "pain"


class OfferKind(StrEnum):
    """How a phone is set up: beside the teacher, by a link that was sent, or for a parent."""

    LESSON = "lesson"
    SENT = "sent"
    PARENT = "parent"


class GrantKind(StrEnum):
    """What a phone is set up for: a student, a student for an hour or two, a parent who reads."""

    STUDENT = "student"
    ONCE = "once"
    PARENT = "parent"


class GrantState(StrEnum):
    """What a phone may do."""

    PROVISIONAL = "provisional"
    CONFIRMED = "confirmed"
    ENDED = "ended"
    REFUSED = "refused"


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def day_in_words(day: date) -> str:
    """Say a day within a sentence: "Tuesday 8 December"."""
    return f"{day:%A} {day.day} {day:%B}"
