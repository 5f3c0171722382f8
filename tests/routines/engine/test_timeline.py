"""Sessions in seconds against the definition of beats a minute and worked examples."""

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import dynamics, notes, timeline
from routines.engine.instruments import INSTRUMENTS, by_id
from routines.engine.plan import PlanError, baseline
from routines.engine.walk import WayBack

SESSIONS = json.loads((Path(__file__).parents[2] / "data" / "timeline_sessions.json").read_text())
PLANS = st.builds(
    lambda instrument, hold, rest, tempo, back: replace(
        baseline(instrument), hold=hold, rest=rest, tempo=tempo, back=back
    ),
    st.sampled_from(INSTRUMENTS),
    st.integers(2, 32),
    st.integers(0, 32),
    st.integers(20, 240),
    st.sampled_from(WayBack),
)


def _trumpet(**changes):
    return replace(baseline(by_id("trumpet_bb")), **changes)


@pytest.mark.parametrize("case", SESSIONS["seconds_per_count"], ids=lambda case: str(case["bpm"]))
def test_a_count_lasts_sixty_seconds_over_the_tempo(case):
    assert timeline.seconds(1, case["bpm"]) == pytest.approx(case["seconds_per_count"], abs=5e-7)


@pytest.mark.parametrize(
    "case", SESSIONS["hold_and_rest"], ids=lambda case: f"{case['block']}-{case['bpm']}"
)
def test_hold_rest_and_duty_are_those_of_the_worked_example(case):
    built = timeline.build(_trumpet(hold=case["hold"], rest=case["rest"], tempo=case["bpm"]))
    first, second = built.steps[:2]

    assert first.hold == pytest.approx(case["hold_s"], abs=5e-5)
    assert first.rest == pytest.approx(case["rest_s"], abs=5e-5)
    assert second.start == pytest.approx(case["note_cycle_s"], abs=1e-4)
    assert built.totals.duty == pytest.approx(case["playing_share"], abs=5e-5)


@pytest.mark.parametrize("case", SESSIONS["walks"], ids=lambda c: f"{c['top']}-{c['back']}")
def test_a_session_lasts_from_first_attack_to_last_release(case):
    for total in case["totals"]:
        plan = _trumpet(
            top_note=notes.parse(case["top"]),
            back=WayBack(case["back"]),
            hold=total["hold"],
            rest=total["rest"],
        )

        built = timeline.build(plan)

        assert built.totals.notes == case["notes"]
        assert built.totals.session_seconds == total["without_last_rest"]
        last = built.steps[-1]
        assert last.start + last.hold + last.rest == total["with_last_rest"]


# 27 * 8 + 26 * 8 seconds, and 39 * 8 + 38 * 8: derived by hand.
def test_the_middle_g_walk_takes_7_min_4_s_restarting_and_10_min_16_s_stepping_back():
    totals = [
        timeline.build(_trumpet(top_note=notes.parse("G5"), back=back)).totals for back in WayBack
    ]

    assert [one.session_seconds for one in totals] == [7 * 60 + 4, 10 * 60 + 16]
    assert [one.hold_seconds for one in totals] == [3 * 60 + 36, 5 * 60 + 12]
    assert totals[0].share == pytest.approx(216 / 424)


def test_an_open_top_is_a_span_from_the_intermediate_top_to_the_end_of_the_chart():
    built = timeline.build(_trumpet())

    assert built.shortest is not None
    fixed = [timeline.build(_trumpet(top_note=notes.parse(top))) for top in ("E5", "E6")]
    assert [built.shortest, built.totals] == [one.totals for one in fixed]
    assert fixed[0].shortest is None


def test_a_start_above_the_intermediate_range_makes_itself_the_nearer_end():
    start = notes.parse("A5")

    built = timeline.build(_trumpet(start_note=start))

    assert built.shortest == timeline.build(_trumpet(start_note=start, top_note=start)).totals


def test_a_step_says_everything_about_its_note():
    step = timeline.build(_trumpet(dynamics=dynamics.parse("by-day:f,p")), day=2).steps[13]

    assert (step.index, step.name, step.written, step.sounding) == (13, "F#3", 54, 52)
    assert (step.fingering, step.dynamic, str(step.part)) == ("123", "p", "down")
    assert step.hint == "extend the third slide"
    # E3 sounding, A4 = 440: printed as 164.814 in tables of equal temperament.
    assert step.hertz == pytest.approx(164.814, abs=0.0005)


@pytest.mark.parametrize("day", [0, -1, 401])
def test_a_day_no_month_has_is_refused(day):
    with pytest.raises(PlanError, match=f"Day {day}: choose 1 to 400"):
        timeline.build(_trumpet(), day=day)


@given(PLANS)
def test_a_note_starts_when_the_rest_before_it_ends(plan):
    steps = timeline.build(plan).steps

    for before, after in pairwise(steps):
        assert after.start == pytest.approx(before.start + before.hold + before.rest, abs=1e-9)


@given(PLANS)
def test_holding_longer_never_shortens_a_session(plan):
    longer = replace(plan, hold=min(32, plan.hold + 1))

    before, after = timeline.build(plan).totals, timeline.build(longer).totals

    assert after.session_seconds >= before.session_seconds
    assert after.duty >= before.duty


@given(PLANS)
def test_the_totals_are_what_the_steps_add_up_to(plan):
    built = timeline.build(plan)
    last = built.steps[-1]

    assert built.totals.session_seconds == pytest.approx(last.start + last.hold)
    assert built.totals.hold_seconds == pytest.approx(sum(step.hold for step in built.steps))
    assert built.shortest is not None
    assert built.shortest.notes <= built.totals.notes
