"""The month line: one month of check-ins drawn as a line of music.

Conventions
-----------
Geometry only, in units of a tenth of a staff space, y downwards, whole numbers, so that a
template prints them as they are. One system (one line of music) holds up to five weeks of seven
days, counted from the first day given. The five staff lines are the five answers to "Out of 10
notes, how many had a full, centred sound?": 1 (0–3) on the lowest line, 5 (10) on the highest. A
check-in without an answer for sound stands below the staff, on no line. A day without news stays
empty.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from itertools import pairwise

LOWEST_SOUND = 1
HIGHEST_SOUND = 5
LINE_GAP = 10
DAYS_A_WEEK = 7
WEEKS_A_SYSTEM = 5

DAY_WIDTH = 14
BARLINE_ROOM = 8
SCALE_ROOM = 36
END_ROOM = 6
TOP_ROOM = 40
TOP_ROOM_SMALL = 20
BELOW_ROOM = 22
UNANSWERED_DROP = 14
FERMATA_RISE = 11
WEEK_NUMBER_Y = 13


class DayState(StrEnum):
    """What is known of one day of a block."""

    FILED = "filed"
    BY_TEACHER = "by_teacher"
    NOT_TODAY = "not_today"
    DAY_OFF = "day_off"
    PAUSED = "paused"
    EMPTY = "empty"
    AHEAD = "ahead"


GLYPHS = {
    DayState.FILED: "head",
    DayState.BY_TEACHER: "head-open",
    DayState.NOT_TODAY: "rest-eighth",
    DayState.DAY_OFF: "rest-quarter",
    DayState.PAUSED: "rest-eighth",
}
DONE = frozenset({DayState.FILED, DayState.BY_TEACHER})
NOT_ASKED = frozenset({DayState.DAY_OFF, DayState.PAUSED, DayState.AHEAD})


@dataclass(frozen=True, slots=True, kw_only=True)
class LineDay:
    """One day: its state, the answer for sound (1 to 5, None = not answered), and any hurt."""

    day: date
    state: DayState
    sound: int | None = None
    hurt: bool = False
    why: str = ""

    def __post_init__(self) -> None:
        """Refuse an answer that the check-in does not have."""
        if self.sound is not None and not LOWEST_SOUND <= self.sound <= HIGHEST_SOUND:
            message = f"Sound {self.sound}: choose {LOWEST_SOUND} to {HIGHEST_SOUND}."
            raise ValueError(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMark:
    """One sign on the line: its day, glyph and place, and the y of a fermata if it hurt."""

    day: LineDay
    glyph: str
    x: int
    y: int
    fermata_y: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Barline:
    """The line that closes a week; the last one of the month is the final barline."""

    x: int
    final: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekNumber:
    """The number of a week, above the start of its bar."""

    number: int
    x: int
    y: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthSystem:
    """One line of music of up to five weeks."""

    width: int
    height: int
    view_box: str
    left: int
    right: int
    line_ys: tuple[int, ...]
    barlines: tuple[Barline, ...]
    weeks: tuple[WeekNumber, ...]
    marks: tuple[LineMark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthLine:
    """A month as music; `done` days of the `asked` ones: no days off, in a pause or ahead."""

    systems: tuple[MonthSystem, ...]
    days: tuple[LineDay, ...]
    done: int
    asked: int
    small: bool


def month_line(days: Sequence[LineDay], *, small: bool = False) -> MonthLine:
    """Lay out one block, a day after the other without a gap; an empty block has no system.

    A small line leaves out the scale and the week numbers.
    """
    _refuse_gaps(days)
    per_system = _weeks_a_system(len(days)) * DAYS_A_WEEK
    widest = min(per_system, len(days))
    systems = tuple(
        _system(days, range(first, min(first + per_system, len(days))), widest, small=small)
        for first in range(0, len(days), per_system)
    )
    return MonthLine(
        systems=systems,
        days=tuple(days),
        done=sum(day.state in DONE for day in days),
        asked=sum(day.state not in NOT_ASKED for day in days),
        small=small,
    )


def _refuse_gaps(days: Sequence[LineDay]) -> None:
    for before, after in pairwise(days):
        if after.day != before.day + timedelta(days=1):
            message = (
                f"{after.day} follows {before.day}: give every day of the block once, in order."
            )
            raise ValueError(message)


def _weeks_a_system(day_count: int) -> int:
    """Weeks in each system, so that two systems are as equal as they can be."""
    weeks = max(1, -(-day_count // DAYS_A_WEEK))
    system_count = -(-weeks // WEEKS_A_SYSTEM)
    return -(-weeks // system_count)


def _system(days: Sequence[LineDay], part: range, widest: int, *, small: bool) -> MonthSystem:
    """Draw the days of `part`, as wide as `widest` days need, so that all heads match in size."""
    left = 1 if small else SCALE_ROOM
    top = TOP_ROOM_SMALL if small else TOP_ROOM
    barline_xs = [
        _barline_x(left, min(end, len(part)))
        for end in range(DAYS_A_WEEK, len(part) + DAYS_A_WEEK, DAYS_A_WEEK)
    ]
    starts = [] if small else [left, *barline_xs[:-1]]
    right = barline_xs[-1]
    is_last = part.stop == len(days)
    width = _barline_x(left, widest) + END_ROOM
    line_ys = tuple(top + LINE_GAP * line for line in range(HIGHEST_SOUND))
    height = line_ys[-1] + BELOW_ROOM
    return MonthSystem(
        width=width,
        height=height,
        view_box=f"0 0 {width} {height}",
        left=left,
        right=right,
        line_ys=line_ys,
        barlines=tuple(Barline(x=x, final=is_last and x == right) for x in barline_xs),
        weeks=tuple(
            WeekNumber(number=part.start // DAYS_A_WEEK + week, x=x, y=WEEK_NUMBER_Y)
            for week, x in enumerate(starts, start=1)
        ),
        marks=tuple(
            _mark(days[index], _day_x(left, place), line_ys)
            for place, index in enumerate(part)
            if days[index].state in GLYPHS
        ),
    )


def _mark(day: LineDay, x: int, line_ys: tuple[int, ...]) -> LineMark:
    return LineMark(
        day=day,
        glyph=GLYPHS[day.state],
        x=x,
        y=_mark_y(day, line_ys),
        fermata_y=line_ys[0] - FERMATA_RISE if day.hurt else None,
    )


def _day_x(left: int, index: int) -> int:
    return (
        left
        + DAY_WIDTH * index
        + BARLINE_ROOM * (index // DAYS_A_WEEK)
        + DAY_WIDTH // 2
        + BARLINE_ROOM // 2
    )


def _barline_x(left: int, day_count: int) -> int:
    full_weeks = -(-day_count // DAYS_A_WEEK)
    return left + DAY_WIDTH * day_count + BARLINE_ROOM * full_weeks


def _mark_y(day: LineDay, line_ys: tuple[int, ...]) -> int:
    if day.state not in DONE:
        return line_ys[len(line_ys) // 2]
    if day.sound is None:
        return line_ys[-1] + UNANSWERED_DROP
    return line_ys[HIGHEST_SOUND - day.sound]
