"""What an assessment is made from: the block, check-ins, lesson ratings and what is open.

Conventions: days are dates; ratings come in the order of Criterion, 1 to 5; None is "not answered"
and never stands for "fine". ``day`` is the day of practice, ``filed`` the day the student wrote it
down, ``received`` the day it arrived. A fact counts from the day it was known (``known_on``), so
that a row that comes later never changes an earlier day's answer. What exists here is within its
limits; EvidenceError says which field is not.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from progress.engine.check_in import Discomfort, Rating, Register
from routines.engine.plan import HOLD_LIMITS, REST_LIMITS, TEMPO_LIMITS
from routines.engine.variants import Aim

# Two pauses of half a year fit; nobody plays one block longer.
DAYS_LIMITS = (1, 400)
NOTES_LIMITS = (1, 200)
HALF_STEPS_LIMITS = (-60, 60)
EFFORT_LIMITS = (0, 10)
MINUTES_LIMITS = (0, 24 * 60)
SHARE_LIMITS = (0, 1)
SECONDS_LIMITS = (0, 24 * 60 * 60)
RATING_LIMITS = (int(min(Rating)), int(max(Rating)))
YEAR_LIMITS = (1900, 2200)
SECONDS_A_MINUTE = 60.0

Ratings = tuple[int | None, int | None, int | None, int | None]
UNANSWERED: Ratings = (None, None, None, None)


class EvidenceError(ValueError):
    """A fact outside its limits; ``field`` is the name of the field to change."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


class OpenKind(StrEnum):
    """What can be open while a block runs."""

    DISCOMFORT = "discomfort"
    ILL = "ill"
    MOUTH = "mouth"
    AWAY = "away"
    LIGHT = "light"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssignedBlock:
    """The block as it stands on the day asked.

    ``notes`` is the length of the walk (up to the median last good note when the top is open),
    ``top_target`` half steps above the start note, None for an open top, ``contrasts`` whether the
    dynamics change already, ``since`` the day after a change of the mouth on which the estimate
    starts anew.
    """

    start: date
    days: int
    notes: float
    hold: int
    rest: int
    tempo: float
    top_target: float | None = None
    aim: Aim | None = None
    child: bool = False
    contrasts: bool = False
    since: date | None = None

    def __post_init__(self) -> None:
        """Raise EvidenceError for the first field that is out of its limits."""
        check_day("start", self.start)
        _within("days", self.days, DAYS_LIMITS)
        _within("notes", self.notes, NOTES_LIMITS)
        _within("hold", self.hold, HOLD_LIMITS)
        _within("rest", self.rest, REST_LIMITS)
        _within("tempo", self.tempo, TEMPO_LIMITS)
        _within("top_target", self.top_target, HALF_STEPS_LIMITS)
        if self.since is not None:
            check_day("since", self.since)

    @property
    def last_day(self) -> date:
        """The last day of the block, still in it."""
        return self.start + timedelta(days=self.days - 1)

    @property
    def hold_seconds(self) -> float:
        """How long the notes of one session sound: notes x hold x 60 / tempo."""
        return self.notes * self.hold * SECONDS_A_MINUTE / self.tempo

    @property
    def duty(self) -> float:
        """The share of playing in a cycle: hold / (hold + rest)."""
        return self.hold / (self.hold + self.rest)

    def first_day_on(self, day: date) -> date:
        """The first day of the evidence as it stands on a day: the block's, or ``since``."""
        if self.since is None or self.since > day:
            return self.start
        return max(self.start, self.since)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckIn:
    """What a student reported of one day; a discomfort told without a check-in has no answers.

    ``effort`` 0 to 10, ``minutes`` played, ``completed`` 0 to 1 of the walk, ``high`` the last good
    note in half steps above the start note, ``trouble`` the registers that gave trouble,
    ``planned`` the hold-seconds of the version played, None for the block's own.
    """

    day: date
    filed: date
    ratings: Ratings = UNANSWERED
    effort: float | None = None
    minutes: float | None = None
    completed: float | None = None
    discomfort: Discomfort | None = None
    high: float | None = None
    trouble: frozenset[Register] | None = None
    received: date | None = None
    planned: float | None = None

    def __post_init__(self) -> None:
        """Raise EvidenceError for the first field that is out of its limits."""
        check_day("day", self.day)
        check_day("filed", self.filed)
        if self.received is not None:
            check_day("received", self.received)
        for rating in self.ratings:
            _within("ratings", rating, RATING_LIMITS)
        _within("effort", self.effort, EFFORT_LIMITS)
        _within("minutes", self.minutes, MINUTES_LIMITS)
        _within("completed", self.completed, SHARE_LIMITS)
        _within("high", self.high, HALF_STEPS_LIMITS)
        _within("planned", self.planned, SECONDS_LIMITS)

    @property
    def known_on(self) -> date:
        """The day from which this counts."""
        return max(self.day, self.filed if self.received is None else self.received)

    @property
    def is_rated(self) -> bool:
        """Whether at least one of the four was answered."""
        return self.ratings != UNANSWERED

    @property
    def load(self) -> float:
        """Effort times minutes; 0 when either was not answered."""
        return (self.effort or 0.0) * (self.minutes or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """What the teacher heard at a lesson; ``filed`` None is the day itself."""

    day: date
    ratings: Ratings
    filed: date | None = None

    def __post_init__(self) -> None:
        """Raise EvidenceError for the first field that is out of its limits."""
        check_day("day", self.day)
        if self.filed is not None:
            check_day("filed", self.filed)
        for rating in self.ratings:
            _within("ratings", rating, RATING_LIMITS)

    @property
    def known_on(self) -> date:
        """The day from which this counts."""
        return self.day if self.filed is None else max(self.day, self.filed)

    @property
    def is_rated(self) -> bool:
        """Whether at least one of the four was answered."""
        return self.ratings != UNANSWERED


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenThing:
    """A discomfort or an interruption, from a day to a day, both included; None is not closed."""

    kind: OpenKind
    begins: date
    ends: date | None = None

    def __post_init__(self) -> None:
        """Raise EvidenceError for a day out of its limits."""
        check_day("from", self.begins)
        if self.ends is not None:
            check_day("to", self.ends)

    def is_open_on(self, day: date) -> bool:
        """Whether it holds on a day."""
        return self.begins <= day and (self.ends is None or day <= self.ends)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """All there is to know of one student's block; the order of the rows does not matter."""

    block: AssignedBlock
    check_ins: tuple[CheckIn, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    open_things: tuple[OpenThing, ...] = ()


def check_day(field: str, day: date) -> None:
    """Raise EvidenceError for a day so far off that no calendar of lessons reaches it."""
    first, last = YEAR_LIMITS
    if not first <= day.year <= last:
        raise EvidenceError(field, f"{field} {day}: choose a year from {first} to {last}.")


def _within(field: str, value: float | None, limits: tuple[int, int]) -> None:
    lowest, highest = limits
    if value is None or (math.isfinite(value) and lowest <= value <= highest):
        return
    raise EvidenceError(field, f"{field} {value:.9g}: choose {lowest} to {highest}.")
