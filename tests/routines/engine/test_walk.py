"""The walk: the trade's own example, and what holds for every walk."""

import json
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import notes
from routines.engine.walk import Part, WayBack, walk

SESSIONS = json.loads((Path(__file__).parents[2] / "data" / "timeline_sessions.json").read_text())
STEPS = st.integers(0, 30)


def _walked(*, down, up, back, start=67):
    return walk(start=start, low=start - down, top=start + up, back=back)


@pytest.mark.parametrize("case", SESSIONS["walks"], ids=lambda c: f"{c['top']}-{c['back']}")
def test_a_trumpet_walk_has_the_notes_of_the_worked_example(case):
    start, low, top = (notes.parse(case[name]) for name in ("start", "low", "top"))

    walked = walk(start=start, low=low, top=top, back=WayBack(case["back"]))

    assert len(walked) == case["notes"]
    assert [one.note for one in walked[:15]] == case["first15"]


# Common practice, no published source: middle G down to low F sharp, back to G, up to G.
def test_the_middle_g_walk_is_27_notes_restarting_and_39_stepping_back():
    counts = [len(_walked(down=13, up=12, back=back)) for back in WayBack]

    assert counts == [27, 39]


def test_restarting_lifts_off_from_the_low_note_to_the_start_note():
    walked = _walked(down=2, up=1, back=WayBack.RESTART)

    assert [(one.note, str(one.part)) for one in walked] == [
        (67, "down"),
        (66, "down"),
        (65, "down"),
        (67, "up"),
        (68, "up"),
    ]


def test_stepping_back_plays_the_start_note_once_on_the_way():
    walked = _walked(down=2, up=1, back=WayBack.STEP)

    assert [(one.note, str(one.part)) for one in walked] == [
        (67, "down"),
        (66, "down"),
        (65, "down"),
        (66, "back"),
        (67, "back"),
        (68, "up"),
    ]


@pytest.mark.parametrize("back", WayBack)
def test_without_a_way_down_the_start_note_is_not_played_twice(back):
    walked = _walked(down=0, up=2, back=back)

    assert [one.note for one in walked] == [67, 68, 69]
    assert {one.part for one in walked} == {Part.UP}


@pytest.mark.parametrize(("low", "start", "top"), [(68, 67, 70), (60, 67, 66)])
def test_a_walk_that_goes_nowhere_is_refused(low, start, top):
    with pytest.raises(ValueError, match="rising order"):
        walk(start=start, low=low, top=top, back=WayBack.STEP)


@given(STEPS, st.sampled_from(WayBack))
def test_a_walk_down_and_back_ends_where_it_began(down, back):
    walked = _walked(down=down, up=0, back=back)

    assert walked[-1].note == walked[0].note == 67


@given(STEPS, STEPS, st.sampled_from(WayBack))
def test_notes_lie_half_a_step_apart_inside_a_part(down, up, back):
    walked = _walked(down=down, up=up, back=back)

    for part, group in groupby(walked, key=lambda one: one.part):
        moves = {after.note - before.note for before, after in pairwise(group)}
        assert moves <= {-1 if part is Part.DOWN else 1}


@given(STEPS, STEPS, st.sampled_from(WayBack))
def test_every_note_from_low_to_top_is_played(down, up, back):
    walked = _walked(down=down, up=up, back=back)

    assert {one.note for one in walked} == set(range(67 - down, 67 + up + 1))


@given(st.integers(1, 30), STEPS)
def test_stepping_back_adds_one_note_less_than_the_way_down(down, up):
    restart = _walked(down=down, up=up, back=WayBack.RESTART)
    step = _walked(down=down, up=up, back=WayBack.STEP)

    assert len(step) - len(restart) == down - 1
