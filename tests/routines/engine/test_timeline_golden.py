"""The engine's timeline against sessions counted through; the browser reads the same file."""

import json
from pathlib import Path

import pytest

from routines.engine import dynamics, timeline
from routines.engine.instruments import ids
from routines.engine.plan import BlockPlan
from routines.engine.walk import WayBack

GOLDEN = json.loads((Path(__file__).parents[2] / "data" / "timelines_golden.json").read_text())
CASES = [
    pytest.param(case, id=f"{case['instrument']}-{case['variant']}-{case['plan']['tempo']}")
    for case in GOLDEN["cases"]
]


def test_the_file_has_every_instrument_in_at_least_sixty_sessions():
    assert len(GOLDEN["cases"]) >= 60
    assert {case["instrument"] for case in GOLDEN["cases"]} == set(ids())


@pytest.mark.parametrize("case", CASES)
def test_the_timeline_is_the_session_that_was_counted_through(case):
    given = case["plan"]
    plan = BlockPlan(
        instrument=case["instrument"],
        start_note=given["start"],
        low_note=given["low"],
        top_note=given["top"],
        back=WayBack(given["back"]),
        hold=given["hold"],
        rest=given["rest"],
        tempo=given["tempo"],
        dynamics=dynamics.parse(given["dynamics"]),
    )

    built = timeline.build(plan, given["day"])

    assert [step.written for step in built.steps] == case["notes"]
    assert [step.dynamic for step in built.steps] == case["dynamics"]
    assert [step.start for step in built.steps] == pytest.approx(case["attacks"], abs=1e-8)
    assert built.totals.session_seconds == pytest.approx(case["ends"], abs=1e-8)
