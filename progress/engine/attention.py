"""Who a teacher should look in on, from facts alone.

Conventions: days are dates; a reason is a code with its figure, and a template holds the sentence.
The seven days of silence are a decision of this program.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from progress.engine.readiness import Outcome
from routines.engine.pauses import Pause, open_days

QUIET_AFTER_DAYS = 7


class Code(StrEnum):
    """Why to look in."""

    HURT = "hurt"
    QUIET = "quiet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One reason: days since it was told for HURT, days without news for QUIET.

    ``paused`` counts the days since then that are not in the figure, because of a pause.
    """

    code: Code
    figure: int
    since: date
    paused: int = 0


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
