"""A session in seconds: which note starts when, how long it is held, what follows.

Conventions: one count is 60 / tempo seconds. Time 0 is the first attack; a session ends with the
last release, so the rest after the last note does not count. Every step carries the rest that is
planned after it, the last one too: a reader that stops at ``session_seconds`` never reaches it.
"""

from dataclasses import dataclass

from routines.engine import instruments
from routines.engine.instruments import ChartNote
from routines.engine.plan import MOST_DAYS, BlockPlan, within
from routines.engine.walk import Part, WalkNote, walk

SECONDS_IN_MINUTE = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One held note. ``index`` counts from 0; start, hold and rest are seconds."""

    index: int
    written: int
    name: str
    sounding: int
    hertz: float
    start: float
    hold: float
    rest: float
    fingering: str
    dynamic: str
    part: Part
    hint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """How long a session is.

    ``share`` is playing time of the whole session, ``duty`` hold of one hold and rest.
    """

    notes: int
    hold_seconds: float
    session_seconds: float
    share: float
    duty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """A session. ``shortest`` is the other end of the span when the top is open, else None."""

    steps: tuple[Step, ...]
    totals: Totals
    shortest: Totals | None


def seconds(counts: int, tempo: int) -> float:
    """Seconds that a number of counts lasts: counts * 60 / tempo."""
    return counts * SECONDS_IN_MINUTE / tempo


def build(plan: BlockPlan, day: int = 1) -> Timeline:
    """Lay out the session of a day, counted from 1; PlanError if no month has such a day.

    An open top goes to the highest note of the chart; ``shortest`` stops where the intermediate
    range does, or on the start note if that is higher.
    """
    within("day", day, (1, MOST_DAYS))
    notes = _walk(plan, plan.highest_note)
    steps = tuple(_step(plan, day, index, note) for index, note in enumerate(notes))
    shortest = None
    if plan.top_note is None:
        top = max(plan.player.intermediate.high, plan.start_note)
        shortest = _totals(plan, len(_walk(plan, top)))
    return Timeline(steps=steps, totals=_totals(plan, len(steps)), shortest=shortest)


def _walk(plan: BlockPlan, top: int) -> tuple[WalkNote, ...]:
    return walk(start=plan.start_note, low=plan.low_note, top=top, back=plan.back)


def _step(plan: BlockPlan, day: int, index: int, note: WalkNote) -> Step:
    on_chart: ChartNote = instruments.chart_note(plan.player, note.note, plan.setup)
    return Step(
        index=index,
        written=note.note,
        name=on_chart.name,
        sounding=on_chart.sounding,
        hertz=on_chart.hertz,
        # From the whole count, not by adding up: no error builds up over a session.
        start=seconds(index * (plan.hold + plan.rest), plan.tempo),
        hold=seconds(plan.hold, plan.tempo),
        rest=seconds(plan.rest, plan.tempo),
        fingering=on_chart.usual.text,
        dynamic=plan.dynamics.at(day, index),
        part=note.part,
        hint=on_chart.hint,
    )


def _totals(plan: BlockPlan, count: int) -> Totals:
    hold_counts = count * plan.hold
    session_counts = hold_counts + (count - 1) * plan.rest
    return Totals(
        notes=count,
        hold_seconds=seconds(hold_counts, plan.tempo),
        session_seconds=seconds(session_counts, plan.tempo),
        share=hold_counts / session_counts,
        duty=plan.hold / (plan.hold + plan.rest),
    )
