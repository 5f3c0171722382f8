"""Whatever happens to a session: no rest shorter than set, no hold longer, no start by itself.

The whole player is driven on its own page, in a time of its own, by seeded sequences of pause,
carry on, again, a hidden page, a call and a page loaded anew. The judge reads only what the page
showed.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from .session_maker import a_session

DRIVEN = (Path(__file__).parent / "driven_session.js").read_text()
# What a frame may be late at either end of a hold, at thirty frames a second.
FRAMES = 2.5 / 30
KINDS = (
    {"hold": 8, "rest": 8, "tempo": 120}, {"hold": 3, "rest": 7, "tempo": 240},
    {"hold": 8, "rest": 4, "tempo": 180}, {"hold": 2, "rest": 0, "tempo": 90},
    {"hold": 4, "rest": 1, "tempo": 60}, {"hold": 5, "rest": 12, "tempo": 200},
)  # fmt: skip


@dataclass(frozen=True)
class Held:
    """One stretch of sound as the page showed it: which note, from when to when."""

    note: int
    begins: float
    ends: float


def sounded(walked: dict[str, Any]) -> list[Held]:
    """Read from what was shown when each note sounded."""
    found: list[Held] = []
    shown = [*walked["shown"], {"at": walked["end"], "view": "", "phase": "", "place": "0 of 0"}]
    since: tuple[int, float] | None = None
    for one in shown:
        note = int(one["place"].split(" ")[0]) if one["place"] else 0
        holds = one["view"] == "running" and one["phase"] == "hold"
        if since is not None and (not holds or note != since[0]):
            found.append(Held(since[0], since[1], one["at"]))
            since = None
        if holds and since is None:
            since = (note, one["at"])
    return found


def as_heard(held: Held, walked: dict[str, Any], hold: float) -> Held:
    """End a hold where it was to end, if the page was hidden by then and showed an old picture."""
    hidden = [done["at"] for done in walked["done"] if done["name"] == "hide"]
    if any(held.begins <= at <= held.begins + hold for at in hidden):
        return replace(held, ends=min(held.ends, held.begins + hold))
    return held


def faults(walked: dict[str, Any], kind: dict[str, Any]) -> list[str]:
    """List what no session may do."""
    hold, rest = (kind[name] * 60 / kind["tempo"] for name in ("hold", "rest"))
    held = [as_heard(one, walked, hold) for one in sounded(walked)]
    anew = [done["at"] for done in walked["done"] if done["name"] == "anew"]
    found = [f"held {one}" for one in held if one.ends - one.begins > hold + FRAMES]
    for before, after in pairwise(held):
        if after.begins - before.ends < rest - FRAMES:
            found.append(f"rest of {after.begins - before.ends:.2f} s for {rest:.2f} s: {after}")
        begun = any(before.ends <= at <= after.begins for at in anew)
        whole = before.ends - before.begins > hold - FRAMES
        may_follow = {before.note, before.note + 1} if whole else {before.note}
        if after.note not in may_follow and not (begun and after.note == 1):
            found.append(f"note {after.note} after {before.note}")
    return found + begun_by_itself(walked)


def begun_by_itself(walked: dict[str, Any]) -> list[str]:
    """List the moments when playing began without a tap."""
    taps = [
        done["at"]
        for done in walked["done"]
        if done["name"] in {"start", "carry-on", "again", "anew"}
    ]
    shown = walked["shown"]
    starts = [
        after["at"]
        for before, after in pairwise(shown)
        if after["view"] == "running" and before["view"] != "running"
    ]
    return [
        f"began by itself at {at}" for at in starts if not any(0 <= at - tap < 1 for tap in taps)
    ]


@pytest.fixture
def wander(open_session: Callable[..., Page]) -> Callable[..., list[dict[str, Any]]]:
    """Drive sessions of a kind by seeds, all on one page."""
    page = open_session()

    def wandered(kind: dict[str, Any], seeds: range, actions: int = 30) -> list[dict[str, Any]]:
        notes = [(67 - at, "down") for at in range(12)]
        session = a_session(notes=notes, top_is_open=False, **kind)
        script = f"""async ([session, seeds, actions]) => {{ {DRIVEN}
            const world = window.world ??= new World();
            const all = [];
            for (const seed of seeds) all.push(await wander(world, session, seed, actions));
            return all;
        }}"""
        found: list[dict[str, Any]] = page.evaluate(script, [session, list(seeds), actions])
        return found

    return wandered


@pytest.mark.battery
def test_no_rest_is_shorter_and_no_hold_longer_than_set_whatever_happens(
    wander, is_battery, seed, figures
):
    each = 80 if is_battery else 4
    found: dict[str, list[str]] = {}
    gaps = names = 0

    for at, kind in enumerate(KINDS):
        first = 1000 * (seed * len(KINDS) + at)
        for number, walked in enumerate(wander(kind, range(first, first + each))):
            gaps += len(sounded(walked)) - 1
            names += len(walked["done"])
            wrong = faults(walked, kind)
            if wrong:
                found[f"{kind} seed {first + number}"] = wrong

    figures.append(
        f"sessions led astray, {each} seeds of each of {len(KINDS)} kinds: {gaps} rests, "
        f"{len(found)} sessions with one too short or a hold too long"
    )
    assert found == {}
    # The sequences did something: holds with a gap between them, and taps.
    assert gaps > 3 * each * len(KINDS)
    assert names > 5 * each * len(KINDS)
