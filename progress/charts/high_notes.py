"""The highest good note of each check-in, as high as it stands on the student's staff.

Conventions: heights in steps above the bottom line of the staff, one a line or space, so that the
lines are at 0, 2, 4, 6 and 8; a sharp or flat stands at its letter's place with its sign beside it,
as in print. Notes are written ones, named in the student's way.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from progress.charts.drawing import Figure, day_axis, day_words, figure, line, marks
from progress.queries.charts import ChartedBlock
from routines.engine import notes, staff
from routines.engine.instruments import Clef
from routines.engine.notes import LETTERS_IN_ORDER, Naming

TOP_LINE = 8
ROOM = 2
MOST_TICKS = 9
SIGNS = {"": "", "sharp": "♯", "flat": "♭"}


@dataclass(frozen=True, slots=True, kw_only=True)
class HighDay:
    """One day: the written note, its name to read and to say, and its place on the staff.

    `asked` names the top note that was asked for, None when open.
    """

    day: date
    note: int
    name: str
    spoken: str
    step: int
    sign: str
    asked: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HighNotesChart:
    """The highest notes of a block; `best` is the highest of them."""

    days: tuple[HighDay, ...]
    has_asked: bool
    figure: Figure

    @property
    def best(self) -> HighDay:
        """The first day of the highest note."""
        return max(self.days, key=lambda day: day.note)

    @property
    def last(self) -> HighDay:
        """The latest day."""
        return self.days[-1]


def high_notes_chart(charted: ChartedBlock, clef: Clef, naming: Naming) -> HighNotesChart | None:
    """Draw the highest notes of a block; None while none was told."""
    if not charted.highs:
        return None
    days = tuple(
        HighDay(
            day=high.day,
            note=high.note,
            name=notes.with_octave(high.note, naming),
            spoken=notes.spoken(high.note, naming),
            step=step_of(high.note, clef),
            sign=SIGNS[notes.spelling(high.note).accidental],
            asked=None if high.asked is None else notes.with_octave(high.asked, naming),
        )
        for high in charted.highs
    )
    asked = [(high.day, high.asked) for high in charted.highs]
    steps = [None if note is None else step_of(note, clef) for _, note in asked]
    return HighNotesChart(
        days=days,
        has_asked=any(step is not None for step in steps),
        figure=_figure(charted, days, steps, clef=clef, naming=naming),
    )


def step_of(note: int, clef: Clef) -> int:
    """Say how many steps above the bottom line a note stands, as the staff's drawing places it."""
    picture = staff.draw([note], clef)
    return (picture.line_ys[-1] - picture.notes[0].y) // staff.STEP


def natural_at(step: int, clef: Clef) -> int:
    """Return the note without sharp or flat that stands so many steps above the bottom line."""
    middle_c = notes.parse("C4")
    place = notes.spelling(middle_c).staff_step - step_of(middle_c, clef) + step
    octave, letter = divmod(place, len(LETTERS_IN_ORDER))
    return notes.parse(f"{LETTERS_IN_ORDER[letter]}{octave}")


def _figure(
    charted: ChartedBlock,
    days: Sequence[HighDay],
    asked: Sequence[int | None],
    *,
    clef: Clef,
    naming: Naming,
) -> Figure:
    places = [day.step for day in days] + [step for step in asked if step is not None]
    # The five lines are always in the picture, so that the height can be read off them.
    low, high = min(*places, 0) - ROOM // 2, max(*places, TOP_LINE) + ROOM
    points = [(day.day, day.step, f"{day_words(day.day)}: {day.name}") for day in days]
    heads = marks(points, symbol="circle", color="--ink", size=9)
    traces = [heads, _accidentals(days)]
    if any(step is not None for step in asked):
        when = [day.day for day in days]
        traces.insert(0, line(when, asked, color="--brass", width=2, dash="dash"))
    block = charted.block
    return figure(
        traces,
        x=day_axis(block.first_day, max(block.first_day + timedelta(days=6), block.last_day))
        | {"showgrid": False},
        y=_staff_axis(low, high, clef, naming),
        changes=charted.changes,
        shapes=[_staff_line(step) for step in range(low, high + 1) if step % 2 == 0],
    )


def _accidentals(days: Sequence[HighDay]) -> Figure:
    signed = [day for day in days if day.sign]
    return {
        "type": "scatter",
        "mode": "text",
        "x": [day.day.isoformat() for day in signed],
        "y": [day.step for day in signed],
        "text": [f"{day.sign}  " for day in signed],
        "textposition": "middle left",
        "textfont": {"color": "--ink", "size": 15},
        "hoverinfo": "skip",
        "cliponaxis": False,
    }


def _staff_axis(low: int, high: int, clef: Clef, naming: Naming) -> Figure:
    steps = range(low, high + 1)
    named = [step for step in steps if len(steps) <= MOST_TICKS or step % 2 == 0]
    return {
        "range": [low - 0.5, high + 0.5],
        "tickvals": named,
        "ticktext": [notes.with_octave(natural_at(step, clef), naming) for step in named],
        "showgrid": False,
        "fixedrange": True,
        "zeroline": False,
        "tickfont": {"color": "--soft"},
        "automargin": True,
    }


def _staff_line(step: int) -> Figure:
    """Draw one of the five lines, or where a ledger line would be, dotted."""
    is_of_the_staff = 0 <= step <= TOP_LINE
    return {
        "type": "line",
        "layer": "below",
        "xref": "paper",
        "yref": "y",
        "x0": 0,
        "x1": 1,
        "y0": step,
        "y1": step,
        "line": {
            "color": "--edge" if is_of_the_staff else "--rule",
            "width": 1,
            "dash": "solid" if is_of_the_staff else "dot",
        },
    }
