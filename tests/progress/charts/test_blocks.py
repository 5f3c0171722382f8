"""Block after block: as long as each lasted, at its mean, with its dates and counts in words."""

import pytest

from progress.charts.blocks import blocks_chart
from progress.queries.charts import BlockMeans, Mean
from routines.models import Block, BlockVersion
from tests.progress.charts.charted import day, there

NONE = Mean(value=None, count=0)


def a_block(first, days, *, own=NONE, heard=NONE):
    block = Block(first_day=day(first), length_days=days)
    return BlockMeans(
        block=block, version=BlockVersion(hold=8, rest=8), last_day=block.last_day,
        check_ins=own.count, lessons=heard.count, own=(own,) * 4, heard=(heard,) * 4,
    )  # fmt: skip


def drawn(*blocks):
    return there(blocks_chart(blocks)).panels[0].figure


def test_a_block_is_a_line_from_its_first_to_its_last_day_with_a_gap_after_it():
    length = drawn(a_block(0, 28, own=Mean(value=3.25, count=8)))["data"][0]

    assert length["x"][:2] == ["2026-03-02", "2026-03-29"]
    assert length["y"] == [3.25, 3.25, None]


def test_a_mark_says_dates_mean_and_count():
    own, heard = Mean(value=3.25, count=8), Mean(value=4.0, count=2)

    figure = drawn(a_block(0, 28, own=own, heard=heard))

    assert figure["data"][1]["text"] == ["2 Mar to 29 Mar 2026: own 3.2 of 8"]
    assert figure["data"][2]["text"] == ["2 Mar to 29 Mar 2026: you heard 4.0 of 2"]


def test_a_block_without_answers_leaves_its_place_empty():
    figure = drawn(a_block(0, 28), a_block(28, 28, own=Mean(value=3.0, count=4)))

    assert figure["data"][1]["x"] == ["2026-04-12"]


@pytest.mark.parametrize(("blocks", "tick"), [(1, 7 * 24 * 3_600_000), (4, "M1"), (24, "M6")])
def test_the_axis_names_weeks_months_or_half_years(blocks, tick):
    own = Mean(value=3.0, count=4)

    axis = drawn(*(a_block(28 * n, 28, own=own) for n in range(blocks)))["layout"]["xaxis"]

    assert axis["dtick"] == tick


def test_without_any_answer_nothing_is_drawn():
    assert blocks_chart([a_block(0, 28)]) is None
    assert blocks_chart([]) is None
