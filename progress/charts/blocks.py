"""Block after block: the means of the four answers, the student's and the teacher's.

Conventions: means of answers 1 to 5 over the check-ins and the lessons of a block, so far in the
one that runs; a block is drawn as long as it lasted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from progress.charts.drawing import Figure, answer_axis, day_axis, figure, line, marks
from progress.engine.check_in import Criterion
from progress.queries.charts import BlockMeans, Mean

SHORT_DAYS = 62
MONTHS_BETWEEN_TICKS = ((120, 1), (300, 2), (500, 4), (1000, 6))


@dataclass(frozen=True, slots=True, kw_only=True)
class BlocksPanel:
    """One of the four, block after block: the own means of the first and the latest block."""

    criterion: Criterion
    first: Mean
    last: Mean
    figure: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class BlocksChart:
    """The four side by side, and the blocks themselves."""

    rows: tuple[BlockMeans, ...]
    panels: tuple[BlocksPanel, ...]

    @property
    def has_own(self) -> bool:
        """Whether an own answer stands in any block."""
        return any(mean.count for row in self.rows for mean in row.own)

    @property
    def has_heard(self) -> bool:
        """Whether a lesson rating stands in any block."""
        return any(mean.count for row in self.rows for mean in row.heard)


def blocks_chart(means: Sequence[BlockMeans]) -> BlocksChart | None:
    """Draw the blocks; None while no answer stands in any."""
    if not any(mean.count for block in means for mean in (*block.own, *block.heard)):
        return None
    return BlocksChart(
        rows=tuple(means),
        panels=tuple(
            BlocksPanel(
                criterion=criterion,
                first=means[0].own[place],
                last=means[-1].own[place],
                figure=_figure(means, place),
            )
            for place, criterion in enumerate(Criterion)
        ),
    )


def _figure(means: Sequence[BlockMeans], place: int) -> Figure:
    own = [(block, block.own[place]) for block in means]
    heard = [(block, block.heard[place]) for block in means]
    days, heights = _lengths(own)
    own_words = _("%(block)s: own %(mean).1f of %(answers)d")
    heard_words = _("%(block)s: you heard %(mean).1f of %(answers)d")
    return figure(
        [
            line(days, heights, color="--ink", width=2),
            marks(_points(own, own_words), symbol="circle", color="--ink", size=8),
            marks(_points(heard, heard_words), symbol="diamond-open", color="--brass", size=13),
        ],
        x=_month_axis(means),
        y=answer_axis(),
    )


def _lengths(rows: Sequence[tuple[BlockMeans, Mean]]) -> tuple[list[date], list[float | None]]:
    """Draw each block from its first to its last day, with a gap after it."""
    days: list[date] = []
    heights: list[float | None] = []
    for block, mean in rows:
        if mean.value is not None:
            days += [block.block.first_day, block.last_day, block.last_day]
            heights += [round(mean.value, 2), round(mean.value, 2), None]
    return days, heights


def _points(
    rows: Sequence[tuple[BlockMeans, Mean]], sentence: str
) -> list[tuple[date, float, str]]:
    return [
        (
            _middle(block),
            round(mean.value, 2),
            sentence % {"block": _dates(block), "mean": mean.value, "answers": mean.count},
        )
        for block, mean in rows
        if mean.value is not None
    ]


def _middle(block: BlockMeans) -> date:
    return block.block.first_day + (block.last_day - block.block.first_day) / 2


def _dates(block: BlockMeans) -> str:
    first, last = block.block.first_day, block.last_day
    dates = {"first": date_format(first, "j M"), "last": date_format(last, "j M Y")}
    return _("%(first)s to %(last)s") % dates


def _month_axis(means: Sequence[BlockMeans]) -> Figure:
    first, last = means[0].block.first_day, means[-1].last_day
    days = (last - first).days
    if days < SHORT_DAYS:
        # A month may hold no first of a month to name.
        return day_axis(first, last) | {"showgrid": False}
    months = next((gap for most, gap in MONTHS_BETWEEN_TICKS if days <= most), 12)
    return {
        "type": "date",
        "range": [(first - timedelta(days=3)).isoformat(), (last + timedelta(days=3)).isoformat()],
        "dtick": f"M{months}",
        "tickformat": "%b\n%Y",
        "fixedrange": True,
        "showgrid": False,
        "linecolor": "--edge",
        "tickfont": {"color": "--soft"},
        "automargin": True,
    }
