"""What a month came to, in facts: the first ten days against the last ten."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import fmean

from progress.models import RATINGS, CheckIn, LessonRating
from progress.queries.evidence import top_reached
from progress.queries.months import StudentMonth
from routines.models import Block
from studio.models import Discomfort

DAYS_COMPARED = 10
EFFORT = "effort"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Some days of a block, the last one included."""

    first_day: date
    last_day: date

    def __contains__(self, day: date) -> bool:
        """Whether a day lies in it."""
        return self.first_day <= day <= self.last_day


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One of the four, or effort, at the start and at the end: mean answers, None without any.

    `heard_first` and `heard_last` are the teacher's own, on the scale 1 to 5; effort has none.
    """

    name: str
    first: float | None
    last: float | None
    heard_first: float | None
    heard_last: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HighNote:
    """The highest good note a student named on a day; a written MIDI number."""

    day: date
    note: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthFacts:
    """A month in facts. `late` is None while there are no days after the first ten."""

    early: Stretch
    late: Stretch | None
    compared: Sequence[Compared]
    first_high: HighNote | None
    last_high: HighNote | None
    hurt: Sequence[Discomfort]
    reached: int | None


def month_facts(month: StudentMonth, block: Block) -> MonthFacts:
    """Sum up a month that has begun; days after the one it is looked at are not in it."""
    end = min(month.day, block.last_day)
    ten = timedelta(days=DAYS_COMPARED - 1)
    early = Stretch(first_day=block.first_day, last_day=min(block.first_day + ten, end))
    after = early.last_day + timedelta(days=1)
    late = Stretch(first_day=max(after, end - ten), last_day=end) if after <= end else None
    rows = [row for day, row in sorted(month.check_ins.items()) if block.first_day <= day <= end]
    lessons = [row for row in month.lessons if block.first_day <= row.day <= end]
    highs = [HighNote(day=row.day, note=row.high_note) for row in rows if row.high_note]
    return MonthFacts(
        early=early,
        late=late,
        compared=[_compared(name, rows, lessons, early, late) for name in (*RATINGS, EFFORT)],
        first_high=highs[0] if highs else None,
        last_high=highs[-1] if highs else None,
        hurt=[row for row in month.told if row.day >= block.first_day],
        reached=None if month.version is None else top_reached(month.version, rows),
    )


def _compared(
    name: str,
    rows: Sequence[CheckIn],
    lessons: Sequence[LessonRating],
    early: Stretch,
    late: Stretch | None,
) -> Compared:
    heard = () if name == EFFORT else lessons
    return Compared(
        name=name,
        first=_mean(rows, name, early),
        last=_mean(rows, name, late),
        heard_first=_mean(heard, name, early),
        heard_last=_mean(heard, name, late),
    )


def _mean(
    rows: Sequence[CheckIn] | Sequence[LessonRating], name: str, stretch: Stretch | None
) -> float | None:
    if stretch is None:
        return None
    answers = [getattr(row, name) for row in rows if row.day in stretch]
    given = [answer for answer in answers if answer is not None]
    return fmean(given) if given else None
