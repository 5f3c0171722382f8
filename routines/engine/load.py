"""How much playing a block asks for, and what a teacher should look at twice.

Conventions: seconds of a session or a week; advice never blocks a plan. Every code has a figure
and the limit it passed. Sources of the limits: published daily routines of held notes last 10 to
25 minutes, one 19 min 20 s (LONG); published teaching asks for as much rest as playing (DENSE);
a beginner's lesson takes two counts at 60 to breathe in (BREATHLESS); a player uses 0.1 to 1 litre
of air a second (J. Wolfe, UNSW), so 12 s at half a litre is six litres (BREATH); one day a week
free is common advice (NO_DAY_OFF); not louder than f in the upper register is common practice, no
published source (LOUD_HIGH).
"""

from dataclasses import dataclass
from enum import StrEnum

from routines.engine import timeline
from routines.engine.dynamics import Level
from routines.engine.plan import BlockPlan, Month
from routines.engine.timeline import Totals

LONGEST_SESSION_SECONDS = 30 * 60.0
LONGEST_BREATH_SECONDS = 12.0
SHORTEST_BREATHING_SECONDS = 2.0
DENSEST_DUTY = 0.5


class Code(StrEnum):
    """What is worth a second look; a template holds the sentence."""

    LONG = "long"
    DENSE = "dense"
    BREATH = "breath"
    BREATHLESS = "breathless"
    LOUD_HIGH = "loud-high"
    NO_DAY_OFF = "no-day-off"


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """One remark: seconds for LONG, BREATH and BREATHLESS, hold / (hold + rest) for DENSE,
    the MIDI number of the highest note for LOUD_HIGH, days a week for NO_DAY_OFF."""

    code: Code
    figure: float
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """How much one session is and how much a week of them; seconds, an open top at its highest."""

    hold_seconds: float
    session_seconds: float
    duty: float
    days_a_week: int
    weekly_hold_seconds: float
    weekly_session_seconds: float


def of(totals: Totals, month: Month) -> Load:
    """Work out the load of a session played on every due day of a week."""
    days = month.days_a_week
    return Load(
        hold_seconds=totals.hold_seconds,
        session_seconds=totals.session_seconds,
        duty=totals.duty,
        days_a_week=days,
        weekly_hold_seconds=totals.hold_seconds * days,
        weekly_session_seconds=totals.session_seconds * days,
    )


def advice(plan: BlockPlan, month: Month | None = None) -> tuple[Advice, ...]:
    """Return what to look at twice, in the order of the codes; empty when nothing stands out.

    An open top is taken at its shortest: it is not the plan that sends a student to the highest
    note of the chart.
    """
    built = timeline.build(plan)
    totals = built.shortest or built.totals
    hold = timeline.seconds(plan.hold, plan.tempo)
    rest = timeline.seconds(plan.rest, plan.tempo)
    top = plan.top_note if plan.top_note is not None else plan.player.highest
    high = plan.player.intermediate.high
    loud = Level.FF in plan.dynamics.levels and top > high
    days = month.days_a_week if month else 0
    found = (
        (totals.session_seconds > LONGEST_SESSION_SECONDS, Code.LONG, totals.session_seconds,
         LONGEST_SESSION_SECONDS),
        (totals.duty > DENSEST_DUTY, Code.DENSE, totals.duty, DENSEST_DUTY),
        (hold > LONGEST_BREATH_SECONDS, Code.BREATH, hold, LONGEST_BREATH_SECONDS),
        (rest < SHORTEST_BREATHING_SECONDS, Code.BREATHLESS, rest, SHORTEST_BREATHING_SECONDS),
        (loud, Code.LOUD_HIGH, top, high),
        (month is not None and not month.weekdays_off, Code.NO_DAY_OFF, days, 6),
    )  # fmt: skip
    return tuple(
        Advice(code=code, figure=figure, limit=limit)
        for stands_out, code, figure, limit in found
        if stands_out
    )
