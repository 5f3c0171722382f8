"""How pauses move the end of a block.

Conventions: days are dates, both ends of a pause are in it. A block lasts until as many days as its
length have passed that lie in no pause; days off count like any other day. That a pause moves the
end is a decision of this program.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from routines.engine.plan import MOST_DAYS, Month


@dataclass(frozen=True, slots=True, kw_only=True)
class Pause:
    """Days on which a student cannot play; ``last_day`` None is not known yet."""

    first_day: date
    last_day: date | None = None

    def __contains__(self, day: date) -> bool:
        """Whether a day lies in it; without a last day it goes on."""
        return self.first_day <= day and (self.last_day is None or day <= self.last_day)


def open_days(first_day: date, last_day: date, pauses: Iterable[Pause]) -> int:
    """Count the days that lie in no pause, both ends included; 0 where the last comes first."""
    pauses = tuple(pauses)
    days = (first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1))
    return sum(not any(day in pause for pause in pauses) for day in days)


def extra_days(month: Month, pauses: Sequence[Pause], before: date | None = None) -> int:
    """Count the days a block goes on beyond its length because of pauses.

    It ends on the day before ``before`` at the latest, the first day of what follows, and after
    MOST_DAYS in all. A pause without a last day moves nothing yet.
    """
    known = [pause for pause in pauses if pause.last_day is not None]
    most = MOST_DAYS if before is None else min(MOST_DAYS, (before - month.first_day).days)
    passed = counted = 0
    while counted < month.length_days and passed < most:
        day = month.first_day + timedelta(days=passed)
        counted += not any(day in pause for pause in known)
        passed += 1
    return max(0, passed - month.length_days)
