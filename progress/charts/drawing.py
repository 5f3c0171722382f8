"""What all charts are drawn with: the axes, the marks and the words of a day.

Conventions: a figure is plain data in the names of plotly.js (``data`` and ``layout``), the days in
ISO 8601. A value that begins with two hyphens is the name of a token of ``tokens.css``; the page's
script puts the colour or font of the theme in its place.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from progress.engine.check_in import Rating
from progress.queries.charts import PlanChange

Figure = dict[str, Any]
DAY_MILLISECONDS = 24 * 60 * 60 * 1000
MOST_DAY_TICKS = 4
FONT_SIZE = 14


def day_words(day: date) -> str:
    """Name a day as the tables do: "Tue 3 Mar"."""
    return date_format(day, "D j M")


def answer_words(rating: int) -> str:
    """Say an answer as it stands on its button: 4 is "8–9"."""
    low, high = Rating(rating).of_ten
    return str(low) if low == high else f"{low}–{high}"


def figure(
    traces: Sequence[Figure],
    *,
    x: Figure,
    y: Figure,
    changes: Sequence[PlanChange] = (),
    **layout: Any,
) -> Figure:
    """Put a figure together; a line with its date stands where the plan changed."""
    shapes = [*layout.pop("shapes", ()), *(_change_line(change) for change in changes)]
    return {
        "data": list(traces),
        "layout": {
            "xaxis": x,
            "yaxis": y,
            "shapes": shapes,
            "annotations": [_change_date(change) for change in changes],
            "margin": {"l": 46, "r": 10, "t": 22 if changes else 8, "b": 30},
            "font": {"family": "--font-text", "size": FONT_SIZE, "color": "--ink"},
            "hoverlabel": {
                "bgcolor": "--sheet",
                "bordercolor": "--ink",
                "font": {"family": "--font-text", "size": FONT_SIZE, "color": "--ink"},
            },
            "paper_bgcolor": "--paper",
            "plot_bgcolor": "--paper",
            "hovermode": "closest",
            "dragmode": False,
            "showlegend": False,
            **layout,
        },
    }


def day_axis(first_day: date, last_day: date) -> Figure:
    """Make an axis of days with a tick every week, or every few weeks in a long stretch."""
    weeks = (last_day - first_day).days // 7 + 1
    step = -(-weeks // MOST_DAY_TICKS)
    return {
        "type": "date",
        "range": [_noon(first_day, -1), _noon(last_day, 0)],
        "tick0": first_day.isoformat(),
        "dtick": step * 7 * DAY_MILLISECONDS,
        "tickformat": "%-d %b",
        "tickangle": 0,
        **_quiet(),
    }


def answer_axis() -> Figure:
    """Make an axis of the five answers, in the words of their buttons."""
    return {
        "range": [min(Rating) - 0.4, max(Rating) + 0.4],
        "tickvals": [int(rating) for rating in Rating],
        "ticktext": [answer_words(rating) for rating in Rating],
        "showgrid": True,
        **_quiet(),
    }


def marks(
    points: Sequence[tuple[date, float, str]], *, symbol: str, color: str, size: int, **more: Any
) -> Figure:
    """Draw one mark for each (day, height, words when pointed at)."""
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [day.isoformat() for day, _, _ in points],
        "y": [height for _, height, _ in points],
        "text": [words for _, _, words in points],
        "hoverinfo": "text",
        "marker": {
            "symbol": symbol,
            "color": color,
            "size": size,
            "line": {"color": color, "width": 2 if symbol.endswith("open") else 0},
        },
        **more,
    }


def line(
    days: Sequence[date], heights: Sequence[float | None], *, color: str, width: float, **more: Any
) -> Figure:
    """Draw a line through heights, broken where there is none; it says nothing when pointed at."""
    dash = more.pop("dash", "solid")
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [day.isoformat() for day in days],
        "y": list(heights),
        "line": {"color": color, "width": width, "dash": dash},
        "hoverinfo": "skip",
        **more,
    }


def _noon(day: date, before: int) -> str:
    """Write the middle of the night before a day (-1) or after it (0): where its column ends."""
    edge = day + timedelta(days=before)
    return f"{edge.isoformat()} 12:00"


def _quiet() -> Figure:
    """Keep an axis where it is: nothing to drag, so that a finger scrolls the page."""
    return {
        "fixedrange": True,
        "zeroline": False,
        "gridcolor": "--rule",
        "linecolor": "--edge",
        "tickfont": {"color": "--soft"},
        "automargin": True,
    }


def _change_line(change: PlanChange) -> Figure:
    start = _noon(change.day, -1)
    return {
        "type": "line",
        "xref": "x",
        "yref": "paper",
        "x0": start,
        "x1": start,
        "y0": 0,
        "y1": 1,
        "line": {"color": "--ink", "width": 1.5, "dash": "dot"},
    }


def _change_date(change: PlanChange) -> Figure:
    return {
        "text": _("from %(day)s") % {"day": date_format(change.day, "j M")},
        "xref": "x",
        "yref": "paper",
        "x": _noon(change.day, -1),
        "y": 1,
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"color": "--ink", "size": FONT_SIZE},
    }
