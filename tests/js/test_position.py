"""Where the session stands at a second, and when it clicks, against a count-through of our own."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from .counting import golden
from .session_maker import a_session, walk_notes

DATA = Path(__file__).parent.parent / "data"
TIMELINES = ("player_baseline", "player_quick", "player_odd_tempo")
ASK = """async ([name, session, args]) => {
    const part = await import(document.querySelector("[data-player]").dataset.position);
    return args.map((arg) => part[name](session, ...arg));
}"""


@pytest.fixture
def ask(open_session: Callable[..., Page]) -> Callable[..., list[Any]]:
    """Call a function of the position module once for each row of arguments."""
    page = open_session()

    def asked(name: str, session: dict[str, Any], *rows: list[float]) -> list[Any]:
        answer: list[Any] = page.evaluate(ASK, [name, session, list(rows)])
        return answer

    return asked


def read(name: str) -> dict[str, Any]:
    """Read a golden timeline."""
    found: dict[str, Any] = json.loads((DATA / f"{name}.json").read_text())
    return found


def session_of(timeline: dict[str, Any]) -> dict[str, Any]:
    """Make the session that a golden timeline is about."""
    kind = dict(timeline["session"])
    return a_session(notes=walk_notes()[: kind.pop("notes")], **kind)


@pytest.mark.parametrize("name", TIMELINES)
def test_a_golden_timeline_is_what_counting_through_gives(name):
    timeline = read(name)

    assert timeline == golden(**timeline["session"])


@pytest.mark.parametrize("name", TIMELINES)
def test_the_player_stands_where_the_count_through_stands(ask, name):
    timeline = read(name)
    expected = [dict(place) for place in timeline["places"]]
    rows = [[place.pop("seconds")] for place in expected]

    found = ask("positionAt", session_of(timeline), *rows)

    assert [{**place, "fraction": round(place["fraction"], 9)} for place in found] == expected


@pytest.mark.parametrize("name", TIMELINES)
def test_every_click_stands_on_its_count(ask, name):
    timeline = read(name)

    [clicks] = ask("clicksFrom", session_of(timeline), [])

    assert [click["kind"] for click in clicks] == [kind for _, kind in timeline["clicks"]]
    for click, (seconds, _) in zip(clicks, timeline["clicks"], strict=True):
        assert click["seconds"] == pytest.approx(seconds, abs=1e-9)


def test_the_worked_example_lasts_seven_minutes_and_four_seconds(ask):
    # 27 holds of 8 and 26 rests of 8 counts at 60, worked by hand: 216 + 208 = 424 seconds.
    # Hold 8 and rest 8 for a month is common practice, no published source.
    [seconds] = ask("sessionSeconds", a_session(), [])

    assert seconds == 424


def test_the_session_is_done_at_the_last_release_and_not_a_rest_later(ask):
    before, after = ask("positionAt", a_session(), [423.9], [424])

    assert (before["phase"], after["phase"], after["index"]) == ("hold", "done", 26)


@pytest.mark.parametrize(
    ("paused_at", "from_", "lead"),
    [
        (-2.5, 0, 4),  # in the count-in: the whole count-in again
        (3.7, 3, 4),  # in the fourth count of a hold: on that count, after a count-in
        (9.2, 9, 0),  # early in a rest: the rest goes on
        (12.0, 12, 0),  # four counts left: enough to count in
        (12.5, 12, 0),
        (13.5, 16, 4),  # three left: a whole count-in takes their place
        (15.9, 16, 4),
    ],
)
def test_carry_on_keeps_the_place_and_never_shortens_a_rest(ask, paused_at, from_, lead):
    [found] = ask("carryOn", a_session(), [paused_at, 0])

    assert found == {"from": from_, "lead": lead}


def test_a_hold_that_is_taken_up_again_begins_with_an_attack(ask):
    [clicks] = ask("clicksFrom", a_session(), [3, 4])

    assert [click["seconds"] for click in clicks[:6]] == [-1, 0, 1, 2, 3, 4]
    assert [click["kind"] for click in clicks[3:6]] == ["count-in", "attack", "hold"]


def test_the_count_in_of_a_later_note_says_when_to_breathe(ask):
    places = ask("positionAt", a_session(), [28.5, 32], [30.5, 32], [32, 32])

    assert [(at["phase"], at["count"], at["breathe"], at["index"]) for at in places] == [
        ("count-in", 1, False, 2), ("count-in", 3, True, 2), ("hold", 1, False, 2),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("phase", "index", "written"),
    [("hold", 14, None), ("rest", 14, 67), ("hold", 15, 67), ("rest", 20, 73), ("rest", 3, None)],
)
def test_only_a_note_played_through_on_the_way_up_can_be_the_last_good_one(
    ask, phase, index, written
):
    [found] = ask("lastNoteUp", a_session(), [{"phase": phase, "index": index}])

    assert (found and found["written"]) == written


def test_a_walk_with_a_set_top_offers_no_last_good_note(ask):
    [found] = ask("lastNoteUp", a_session(top_is_open=False), [{"phase": "rest", "index": 20}])

    assert found is None
