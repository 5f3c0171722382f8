"""Who a teacher should look in on, from facts alone.

Conventions: days are dates; a reason is a code with its figure, and a template holds the sentence.
The seven days of silence, how much is a sudden change and how many repeats are too many are
decisions of this program.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from statistics import median

from progress.engine.check_in import Criterion
from progress.engine.evidence import Ratings
from progress.engine.readiness import Outcome
from routines.engine.pauses import Pause, open_days

QUIET_AFTER_DAYS = 7
NEWEST = 3
BEFORE = 7
LEAST_BEFORE = 5
FALL = 1
ROWS_FALLEN = 2
RISE_OF_EFFORT = 4
THIRD_REPEAT = 4


class Code(StrEnum):
    """Why to look in."""

    HURT = "hurt"
    FALL = "fall"
    EFFORT = "effort"
    REPEATED = "repeated"
    QUIET = "quiet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason: days since it was told for HURT, days without news for QUIET.

    For FALL the figure is how many of the four fell, named in ``fallen``; for EFFORT it is the
    effort of the newest check-ins, ``before`` that of those before; for REPEATED the months in a
    row. ``paused`` counts the days since then that are not in the figure, because of a pause.
    """

    code: Code
    figure: int
    since: date
    paused: int = 0
    fallen: tuple[Criterion, ...] = ()
    before: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """The ratings and the effort of one day's check-in, None where not answered."""

    day: date
    ratings: Ratings
    effort: int | None


def look_in(
    *,
    day: date,
    asked_since: date | None,
    hurts: Sequence[date],
    news: Sequence[date],
    pauses: Sequence[Pause] = (),
) -> tuple[Reason, ...]:
    """Give the reasons to look in on a student on a day, the gravest first.

    `hurts` are the days of discomforts no teacher has closed, `news` the days a student reported
    on, played or not. `asked_since` is the first day of the running block, None without one:
    silence counts only while something is asked, from that day or the last news, and no day in
    one of the `pauses` counts.
    """
    reasons = []
    if hurts:
        told = max(hurts)
        reasons.append(Reason(code=Code.HURT, figure=(day - told).days, since=told))
    if asked_since is not None and asked_since <= day:
        heard = max([asked_since - timedelta(days=1), *(told for told in news if told <= day)])
        silent = open_days(heard + timedelta(days=1), day, pauses)
        if silent >= QUIET_AFTER_DAYS:
            paused = (day - heard).days - silent
            reasons.append(Reason(code=Code.QUIET, figure=silent, since=heard, paused=paused))
    return tuple(reasons)


def sudden_change(answers: Sequence[Answers]) -> tuple[Reason, ...]:
    """Say what changed of a sudden: the last three check-ins against up to seven before them.

    A row fell if its median is at least 1 lower, and two rows must have; effort rose if its median
    is at least 4 higher. `answers` come in the order of their days; with fewer than five before
    the last three nothing is said, and a row with gaps is judged by what it has, if it has enough.
    """
    newest, before = answers[-NEWEST:], answers[-NEWEST - BEFORE : -NEWEST]
    if len(newest) < NEWEST or len(before) < LEAST_BEFORE:
        return ()
    found = []
    fallen = tuple(
        criterion
        for place, criterion in enumerate(Criterion)
        if (row := _medians(newest, before, place)) and row[1] - row[0] >= FALL
    )
    since = newest[0].day
    if len(fallen) >= ROWS_FALLEN:
        found.append(Reason(code=Code.FALL, figure=len(fallen), since=since, fallen=fallen))
    efforts = _medians(newest, before, None)
    if efforts and efforts[0] - efforts[1] >= RISE_OF_EFFORT:
        now, then = round(efforts[0]), round(efforts[1])
        found.append(Reason(code=Code.EFFORT, figure=now, since=since, before=then))
    return tuple(found)


def repeated(months_in_a_row: int, since: date) -> tuple[Reason, ...]:
    """Point out a block that is the third repeat of one plan, or a later one."""
    if months_in_a_row < THIRD_REPEAT:
        return ()
    return (Reason(code=Code.REPEATED, figure=months_in_a_row, since=since),)


def _medians(
    newest: Sequence[Answers], before: Sequence[Answers], place: int | None
) -> tuple[float, float] | None:
    """Take the medians of one row, or of effort; None where too few have answered."""
    pair = [
        [
            value
            for row in rows
            if (value := row.effort if place is None else row.ratings[place]) is not None
        ]
        for rows in (newest, before)
    ]
    if len(pair[0]) < NEWEST or len(pair[1]) < LEAST_BEFORE:
        return None
    return median(pair[0]), median(pair[1])


class Standing(StrEnum):
    """Where a student stands for the teacher, in the order of who needs a look first."""

    REST_AND_ASK = "rest_and_ask"
    LOOK_IN = "look_in"
    MAY_BE_READY = "may_be_ready"
    REPEAT = "repeat"
    NOT_CLEAR = "not_clear"
    NO_CONCERN = "no_concern"
    NOT_ENOUGH = "not_enough"


CLEAR_UNTIL_DAYS_BEFORE_END = 5

_STANDING = {
    Outcome.EASE_OFF: Standing.REST_AND_ASK,
    Outcome.MAY_BE_READY: Standing.MAY_BE_READY,
    Outcome.REPEAT: Standing.REPEAT,
    Outcome.TOO_LITTLE: Standing.NOT_ENOUGH,
}


def standing(outcome: Outcome, reasons: Sequence[Reason], *, day: date, last_day: date) -> Standing:
    """Say where a student stands: what hurts first, then what the teacher should look at.

    "Keep going" is no concern, but in the last five days of a block it is not clear yet.
    """
    if outcome is Outcome.EASE_OFF or any(reason.code is Code.HURT for reason in reasons):
        return Standing.REST_AND_ASK
    if reasons:
        return Standing.LOOK_IN
    if outcome is Outcome.KEEP_GOING:
        near_the_end = day > last_day - timedelta(days=CLEAR_UNTIL_DAYS_BEFORE_END)
        return Standing.NOT_CLEAR if near_the_end else Standing.NO_CONCERN
    return _STANDING[outcome]
