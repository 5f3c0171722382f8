"""A day of a paper chart as one short line of signs, for entering a month by keyboard.

Five signs in the order of the chart's rows: clean start, full sound, steady middle, neat ending,
effort. Each is 1 to 5 as on the chart, or "-" for a square left empty. After them "h" for a little
hurt, "hh" for a lot. An empty line is a day without practice. The signs are this program's own.
"""

from dataclasses import dataclass
from datetime import date
from uuid import UUID, uuid5

from progress.engine.check_in import Discomfort, Effort, Rating
from progress.engine.evidence import Ratings

ANSWERS = 5
EMPTY = "-"
HURT = {"": Discomfort.NONE, "h": Discomfort.MILD, "hh": Discomfort.PAIN}


class PaperError(ValueError):
    """A line that cannot be read; the message says what was given and what to write."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperDay:
    """What stands on paper for one day; None is a square left empty."""

    ratings: Ratings
    effort: Effort | None
    discomfort: Discomfort


def read(line: str) -> PaperDay | None:
    """Read one line; blanks between the signs do not count. None is a day without practice."""
    signs = "".join(line.split()).lower()
    if not signs:
        return None
    answers = signs.rstrip("h")
    hurt = signs[len(answers) :]
    # A day may hold nothing but what hurt.
    squares = answers or EMPTY * ANSWERS
    if hurt not in HURT:
        message = f"{_given(line)}: write h for a little hurt, hh for a lot."
        raise PaperError(message)
    if len(squares) != ANSWERS:
        message = (
            f"{_given(line)} has {len(squares)} squares: write five, and - for one left empty."
        )
        raise PaperError(message)
    for square in squares:
        if square != EMPTY and square not in "12345":
            message = f"{_given(line)}: {square!r} is none of 1 to 5 and -."
            raise PaperError(message)
    *ratings, effort = (None if square == EMPTY else int(square) for square in squares)
    first, second, third, fourth = (None if one is None else Rating(one) for one in ratings)
    return PaperDay(
        ratings=(first, second, third, fourth),
        effort=None if effort is None else list(Effort)[effort - 1],
        discomfort=HURT[hurt],
    )


def write(day: PaperDay) -> str:
    """Write a day as the line that `read` reads."""
    squares = [EMPTY if one is None else str(int(one)) for one in day.ratings]
    squares.append(EMPTY if day.effort is None else str(list(Effort).index(day.effort) + 1))
    return "".join(squares) + next(sign for sign, how in HURT.items() if how is day.discomfort)


def key_of(entry: UUID, day: date) -> UUID:
    """Name the row of a day of an entry, so that the same entry sent twice is one."""
    return uuid5(entry, day.isoformat())


def _given(line: str) -> str:
    return ascii(line.strip())[:24]
