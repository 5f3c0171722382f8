"""Every reason is a sentence with its number, and nothing reads as a time signature."""

import re
from dataclasses import replace
from datetime import date

import pytest
from django.template.loader import render_to_string

from progress.engine.parameters import USUAL
from progress.engine.readiness import assess
from progress.engine.reasons import Code, Reason
from tests.progress.engine import vectors

TIME_SIGNATURE = re.compile(r"(?<![0-9/])(12/8|8/4|4/4|8/8)(?![0-9/])")
TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def found():
    return [assess(vectors.evidence(one), vectors.day(one)) for one in vectors.SCENARIOS]


def said(reason, assessment, **more) -> str:
    context = {"reason": reason, "found": assessment, "parameters": USUAL} | more
    return " ".join(render_to_string("progress/_reason.html", context).split())


@pytest.mark.parametrize("code", list(Code))
@pytest.mark.parametrize("figure", [0.0, 1.0, 0.42, -1.3, 12.0])
def test_every_reason_carries_its_number(code, figure, found):
    words = said(Reason(code, figure), found[0])

    assert re.search(r"[0-9]", words), code
    assert words.endswith(".")
    assert not TIME_SIGNATURE.search(words)


@pytest.mark.parametrize(
    ("code", "figure", "running", "over"),
    [
        (Code.STALE, 8, "The last usable check-in is 8 days old; 7 at most.",
         "The last usable check-in came 8 days before the last day; 7 at most."),
        (Code.EARLY, 6, "Day 6 of the evidence; the first reading comes on day 11.",
         "The evidence came to day 6; a reading needs day 11."),
        (Code.NO_LESSON, 1, "1 lesson rating counts for this block, and one of the last 21 days is "
         "needed. Own answers alone cannot tell.",
         "1 lesson rating counts for this block, and one of its last 21 days is needed. "
         "Own answers alone cannot tell."),
    ],
)  # fmt: skip
def test_a_block_that_is_over_is_not_said_to_be_running(code, figure, running, over, found):
    reason = Reason(code, figure)

    assert said(reason, found[0]) == running
    assert said(reason, found[0], over=True) == over


def test_a_pain_before_the_last_day_is_not_said_to_be_of_today(found):
    reasons = [Reason(Code.PAIN, figure) for figure in (0, 2)]

    words = [said(reason, found[0], over=True, as_of=TODAY) for reason in reasons]

    assert words[0].startswith("It hurt on the last day (0 days before it);")
    assert words[1].startswith("It hurt 2 days before the last day;")


@pytest.mark.parametrize(
    ("code", "figure", "words"),
    [
        (Code.EFFORT_TREND, -0.004, "Effort falls by less than 0.01 a day, and all is played"),
        (Code.EFFORT_TREND, -0.05, "Effort falls by 0.05 a day, and all is played"),
        (Code.EFFORT_TREND, -0.3, "Effort falls by 0.3 a day, and all is played"),
        (Code.INCOMPLETE, 0.796, "On average 79 % of it is played; 80 % is needed"),
        (Code.INCOMPLETE, 0.7999999999999999, "On average 79 % of it is played; 80 % is needed"),
        (Code.INCOMPLETE, 0.57, "On average 57 % of it is played; 80 % is needed"),
        (Code.BIAS, 0.049, "Own answers and yours agree (3 lessons): 0.0 apart."),
        (Code.BIAS, -0.049, "Own answers and yours agree (3 lessons): 0.0 apart."),
        (Code.BIAS, -0.06, "Own answers run 0.06 below yours (3 lessons); they are moved"),
        (Code.BIAS, 0.93, "Own answers run 0.9 above yours (3 lessons); they are moved"),
        (Code.LATE, 1, "1 check-in came more than 2 days late; it counts as practice, not as a"),
        (Code.LATE, 3, "3 check-ins came more than 2 days late; they count as practice, not as"),
        (Code.FEW, 1, "1 usable check-in; 6 are needed."),
        (Code.OPEN, 2, "2 things open: nothing harder is proposed."),
    ],
)
def test_a_small_figure_and_a_single_thing_read_as_what_they_are(code, figure, words, found):
    assert said(Reason(code, figure), replace(found[0], lessons=3)).startswith(words)


def test_the_aim_is_named_and_the_step_follows_it_only_where_it_does(found):
    reason = Reason(Code.AIM, 1)
    endurance = next(one for one in found if one.proposal and one.proposal.variant == "endurance")
    nothing = next(one for one in found if one.proposal is None)

    assert said(reason, endurance, aim="endurance") == (
        "1 aim is set: endurance. The step follows it."
    )
    assert said(reason, endurance, aim="recovery") == "1 aim is set: recovery."
    assert said(reason, nothing, aim="endurance") == "1 aim is set: endurance."


def test_what_the_scenarios_come_to_is_said_with_numbers(found):
    for assessment in found:
        for reason in assessment.reasons:
            assert re.search(r"[0-9]", said(reason, assessment)), reason


def test_every_proposal_says_its_counts_and_its_playing(found):
    proposals = [one for one in found if one.proposal is not None]

    for one in proposals:
        words = render_to_string("progress/_proposal.html", {"found": one})
        assert f"Hold {one.proposal.hold} · Rest {one.proposal.rest}" in words
        assert f"{round(one.proposal.hold_seconds)} s of sound" in words
        assert not TIME_SIGNATURE.search(words)
    assert len(proposals) > 5
