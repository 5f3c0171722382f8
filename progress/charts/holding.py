"""Seconds of held notes a week, against what the plan asks for.

Conventions: weeks are the block's own, seven days from its first. Held is the hold-seconds of the
version each check-in was played under times the share that was played; a check-in that does not say
how much was played is counted apart, as what it can have been at most. Asked is the hold-seconds of
each due day under the version of that day, for the whole week, also while it runs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.charts.drawing import DAY_MILLISECONDS, Figure, day_axis, day_words, figure
from progress.engine.evidence import CheckIn
from progress.queries.charts import ChartedBlock
from routines.templatetags.music import minutes

WEEK = timedelta(days=7)
HALF_A_WEEK = timedelta(days=3)
SECONDS_A_MINUTE = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldWeek:
    """One week of a block, in seconds; `last_day` is the week's, or the block's in its last week.

    `unsaid` counts the check-ins without a played share, `unsaid_seconds` what they are at most.
    """

    number: int
    first_day: date
    last_day: date
    check_ins: int
    held_seconds: float
    unsaid: int
    unsaid_seconds: float
    due_days: int
    asked_seconds: float
    is_running: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingChart:
    """The weeks that have begun."""

    weeks: tuple[HeldWeek, ...]
    figure: Figure

    @property
    def has_unsaid(self) -> bool:
        """Whether some check-in does not say how much was played."""
        return any(week.unsaid for week in self.weeks)

    @property
    def held_seconds(self) -> float:
        """All that was held, as far as it was said."""
        return sum(week.held_seconds for week in self.weeks)


def holding_chart(charted: ChartedBlock) -> HoldingChart | None:
    """Draw the weeks of a block; None while nothing was played in it."""
    evidence = charted.evidence
    if evidence is None:
        return None
    played = [row for row in evidence.check_ins if row.planned is not None]
    if not any(row.day <= charted.last_day for row in played):
        return None
    block = charted.block
    count = (charted.last_day - block.first_day).days // 7 + 1
    weeks = tuple(
        _week(number, block.first_day + (number - 1) * WEEK, charted, played)
        for number in range(1, count + 1)
    )
    return HoldingChart(weeks=weeks, figure=_figure(charted, weeks))


def _week(
    number: int, first_day: date, charted: ChartedBlock, played: Sequence[CheckIn]
) -> HeldWeek:
    last_day = min(first_day + WEEK - timedelta(days=1), charted.block.last_day)
    rows = [row for row in played if first_day <= row.day <= min(last_day, charted.last_day)]
    said = [(row.planned or 0.0) * row.completed for row in rows if row.completed is not None]
    unsaid = [row.planned or 0.0 for row in rows if row.completed is None]
    asked = _within(charted.asked, first_day, last_day)
    return HeldWeek(
        number=number,
        first_day=first_day,
        last_day=last_day,
        check_ins=len(rows),
        held_seconds=sum(said),
        unsaid=len(unsaid),
        unsaid_seconds=sum(unsaid),
        due_days=len(asked),
        asked_seconds=sum(asked),
        is_running=charted.last_day < last_day,
    )


def _within(asked: Mapping[date, float], first_day: date, last_day: date) -> list[float]:
    return [seconds for day, seconds in asked.items() if first_day <= day <= last_day]


def _figure(charted: ChartedBlock, weeks: Sequence[HeldWeek]) -> Figure:
    held = [week.held_seconds for week in weeks]
    return figure(
        [
            _bars(weeks, [week.asked_seconds for week in weeks], days=6.0, color="--paper")
            | {"text": [_asked_words(week) for week in weeks]},
            _bars(weeks, held, days=3.6, color="--brass")
            | {"text": [_held_words(week) for week in weeks]},
            _bars(weeks, [week.unsaid_seconds for week in weeks], days=3.6, color="--paper")
            | {
                "base": _minutes(held),
                "text": [_unsaid_words(week) for week in weeks],
                "marker": _hatched(),
            },
        ],
        x=day_axis(
            weeks[0].first_day, max(weeks[-1].first_day + timedelta(days=6), weeks[-1].last_day)
        ),
        y={
            "rangemode": "tozero",
            "ticksuffix": " min",
            "fixedrange": True,
            "gridcolor": "--rule",
            "zerolinecolor": "--ink",
            "tickfont": {"color": "--soft"},
            "automargin": True,
        },
        changes=charted.changes,
        barmode="overlay",
    )


def _bars(
    weeks: Sequence[HeldWeek], seconds: Sequence[float], *, days: float, color: str
) -> Figure:
    return {
        "type": "bar",
        "x": [(week.first_day + HALF_A_WEEK).isoformat() for week in weeks],
        "y": _minutes(seconds),
        "width": days * DAY_MILLISECONDS,
        "hoverinfo": "text",
        "textposition": "none",
        "marker": {"color": color, "line": {"color": "--ink", "width": 1.5}},
    }


def _hatched() -> Figure:
    return {
        "color": "--paper",
        "line": {"color": "--ink", "width": 1.5},
        "pattern": {"shape": "/", "fgcolor": "--brass", "bgcolor": "--paper", "size": 6},
    }


def _minutes(seconds: Sequence[float]) -> list[float]:
    return [round(value / SECONDS_A_MINUTE, 2) for value in seconds]


def _asked_words(week: HeldWeek) -> str:
    sentence = ngettext(
        "%(week)s: asked %(time)s on %(days)d day",
        "%(week)s: asked %(time)s on %(days)d days",
        week.due_days,
    )
    asked = {"time": minutes(week.asked_seconds), "days": week.due_days}
    return sentence % ({"week": _named(week)} | asked)


def _held_words(week: HeldWeek) -> str:
    held = {"week": _named(week), "time": minutes(week.held_seconds)}
    return _("%(week)s: held %(time)s") % held


def _unsaid_words(week: HeldWeek) -> str:
    most = {"week": _named(week), "time": minutes(week.unsaid_seconds)}
    return _("%(week)s: not said how much, at most %(time)s") % most


def _named(week: HeldWeek) -> str:
    named = {"number": week.number, "day": day_words(week.first_day)}
    return _("Week %(number)d, from %(day)s") % named
