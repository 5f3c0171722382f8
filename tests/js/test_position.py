"""Where the session stands at a second, and when it clicks, against count-throughs of our own."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from routines.engine import dynamics, timeline
from routines.engine.plan import BlockPlan
from routines.engine.walk import WayBack

from . import golden_timelines
from .counting import golden
from .session_maker import a_session, walk_notes

DATA = Path(__file__).parent.parent / "data"
TIMELINES = ("player_baseline", "player_quick", "player_odd_tempo")
POSITIONS = """const [session, seconds] = values;
    return seconds.map((second) => position.positionAt(session, second));"""
STRETCH = """const [session, seconds, stretch] = values;
    return seconds.map((second) => position.positionAt(session, second, stretch));"""
CLICKS = "const [session, ...stretch] = values; return position.clicksFrom(session, ...stretch);"


def read(name: str) -> dict[str, Any]:
    """Read a golden timeline."""
    found: dict[str, Any] = json.loads((DATA / f"{name}.json").read_text())
    return found


def session_of(counted: dict[str, Any]) -> dict[str, Any]:
    """Make the session that a golden timeline is about."""
    kind = dict(counted["session"])
    return a_session(notes=walk_notes()[: kind.pop("notes")], **kind)


def built(case: dict[str, Any], count_in: int) -> dict[str, Any]:
    """Take a session from the engine's own timeline, as the page does."""
    given = case["plan"]
    plan = BlockPlan(
        instrument=case["instrument"], start_note=given["start"], low_note=given["low"],
        top_note=given["top"], back=WayBack(given["back"]), hold=given["hold"],
        rest=given["rest"], tempo=given["tempo"], dynamics=dynamics.parse(given["dynamics"]),
    )  # fmt: skip
    steps = timeline.build(plan, given["day"]).steps
    return {
        "tempo": plan.tempo,
        "count_in": count_in,
        "steps": [
            {"index": step.index, "start": step.start, "hold": step.hold, "rest": step.rest}
            for step in steps
        ],
    }


def test_the_golden_timelines_are_what_their_maker_counts():
    assert golden_timelines.GOLDEN.read_text() == golden_timelines.text()


def test_the_player_stands_where_every_golden_session_was_counted_to(
    ask: Callable[..., Any],
):
    whole = read("timelines_golden")
    asked = [
        [built(case, whole["count_in"]), [place[0] for place in case["places"]]]
        for case in whole["cases"]
    ]

    found = ask(
        """return values.map(([session, seconds]) => seconds.map((second) => {
        const at = position.positionAt(session, second);
        return [second, at.phase, at.index, at.count, at.left, at.breathe];
    }));""",
        *asked,
    )

    assert found == [case["places"] for case in whole["cases"]]
    assert sum(len(places) for places in found) > 800


@pytest.mark.parametrize("name", TIMELINES)
def test_every_count_and_every_click_of_a_session_is_where_it_was_counted(ask, name):
    counted = read(name)
    session = session_of(counted)

    found = ask(POSITIONS, session, [place["seconds"] for place in counted["places"]])
    clicks = ask(CLICKS, session)

    assert counted == golden(**counted["session"])
    for at, place in zip(found, counted["places"], strict=True):
        assert {name: at[name] for name in place if name not in {"seconds", "fraction"}} == {
            name: place[name] for name in place if name not in {"seconds", "fraction"}
        }
        assert at["fraction"] == pytest.approx(place["fraction"], abs=1e-9)
    assert [click["kind"] for click in clicks] == [kind for _, kind in counted["clicks"]]
    assert [click["seconds"] for click in clicks] == pytest.approx(
        [seconds for seconds, _ in counted["clicks"]], abs=1e-9
    )


def test_the_worked_example_lasts_seven_minutes_and_four_seconds(ask):
    # 27 holds of 8 and 26 rests of 8 counts at 60, worked by hand: 216 + 208 = 424 seconds.
    # Hold 8 and rest 8 for a month is common practice, no published source.
    seconds, (before, after) = ask(
        """const [session] = values;
        return [position.sessionSeconds(session),
            [423.9, 424].map((at) => position.positionAt(session, at))];""",
        a_session(),
    )

    assert seconds == 424
    # Done at the last release, and not a rest later.
    assert (before["phase"], after["phase"], after["index"]) == ("hold", "done", 26)


def test_a_stretch_that_begins_with_a_later_note_counts_in_and_says_when_to_breathe(ask):
    places = ask(STRETCH, a_session(), [28.5, 30.5, 32], {"from": 32, "lead": 4})

    assert [(at["phase"], at["count"], at["breathe"], at["index"]) for at in places] == [
        ("count-in", 1, False, 2), ("count-in", 3, True, 2), ("hold", 1, False, 2),
    ]  # fmt: skip
    assert [at["coming"] for at in places] == [2, 2, 3]


def test_a_lead_longer_than_a_count_in_is_a_rest_with_its_clicks(ask):
    stretch = {"from": 32, "lead": 7}
    places = ask(STRETCH, a_session(), [25, 29.5, 31.5, 32], stretch)
    clicks = ask(CLICKS, a_session(), stretch)

    assert [(at["phase"], at["left"], at["breathe"]) for at in places] == [
        ("rest", 7, False), ("rest", 3, False), ("rest", 1, True), ("hold", 8, False),
    ]  # fmt: skip
    assert [click["seconds"] for click in clicks[:9]] == [25, 26, 27, 28, 29, 30, 31, 32, 33]
    assert [click["kind"] for click in clicks[6:9]] == ["rest", "attack", "hold"]
