"""Every figure against the library's own validators, and against what a page can draw.

plotly's Python package (the same release of plotly.js as the vendored bundle) refuses a property or
a value that the drawing library does not have.
"""

import json
import re

import pytest
from plotly import graph_objects

from progress.charts.blocks import blocks_chart
from progress.charts.high_notes import high_notes_chart
from progress.charts.holding import holding_chart
from progress.charts.ratings import ratings_chart
from progress.queries.charts import BlockMeans, HighNote, Mean, PlanChange
from routines.engine.instruments import Clef
from routines.engine.notes import Naming
from tests import tree
from tests.progress.charts.charted import a_charted, a_check_in, a_lesson, day, there

TOKENS = dict(
    re.findall(r"(--[a-z-]+): ([^;]+);", (tree.TOP / "static" / "css" / "tokens.css").read_text())
)


def figures():
    """Give one figure of each kind, of a month with everything in it."""
    charted = a_charted(
        check_ins=tuple(
            a_check_in(n, 3, 4, None, 5, completed=None if n % 4 else 1.0, late=3 * (n % 5 == 0))
            for n in range(24)
        ),
        lessons=(a_lesson(4, 3, 3, 3, 3), a_lesson(18, 4, 4, 3, 5)),
        highs=tuple(HighNote(day=day(n), note=78 + n % 3, asked=79) for n in range(20)),
        changes=(PlanChange(day=day(12), hold=12, rest=8, tempo=60, variables=("hold",)),),
        asked={day(n): 216.0 for n in range(28)},
    )
    means = BlockMeans(
        block=charted.block, version=charted.version, last_day=day(27), check_ins=24, lessons=2,
        own=(Mean(value=3.5, count=24),) * 4, heard=(Mean(value=None, count=0),) * 4,
    )  # fmt: skip
    return {
        "ratings": there(ratings_chart(charted)).panels[1].figure,
        "high notes": there(high_notes_chart(charted, Clef.TREBLE, Naming.LETTERS)).figure,
        "holding": there(holding_chart(charted)).figure,
        "blocks": there(blocks_chart([means])).panels[0].figure,
    }


def coloured(value):
    """Put the light theme's colours in, as the page's script does."""
    if isinstance(value, str):
        return TOKENS.get(value, value)
    if isinstance(value, list):
        return [coloured(one) for one in value]
    if isinstance(value, dict):
        return {name: coloured(one) for name, one in value.items()}
    return value


@pytest.mark.parametrize("name", figures())
def test_the_library_takes_every_property_and_value(name):
    graph_objects.Figure(coloured(figures()[name]))


def test_a_property_that_does_not_exist_would_be_found():
    figure = coloured(figures()["ratings"])
    figure["layout"]["hovermood"] = "closest"

    with pytest.raises(ValueError, match="hovermood"):
        graph_objects.Figure(figure)


@pytest.mark.parametrize("name", figures())
def test_every_colour_is_a_token_of_the_page(name):
    text = json.dumps(figures()[name])

    assert set(re.findall(r'"(--[^"]+)"', text)) <= set(TOKENS)
    assert re.findall(r"#[0-9a-fA-F]{3,6}\b|rgb", text) == []


@pytest.mark.parametrize("name", figures())
def test_nothing_can_be_dragged_so_that_a_finger_scrolls_the_page(name):
    layout = figures()[name]["layout"]

    assert layout["dragmode"] is False
    assert layout["xaxis"]["fixedrange"]
    assert layout["yaxis"]["fixedrange"]


@pytest.mark.parametrize("name", figures())
def test_a_figure_is_small(name):
    assert len(json.dumps(figures()[name])) < 8_000
