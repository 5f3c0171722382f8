"""Every reason is a sentence with its number, and nothing reads as a time signature."""

import re
from datetime import date, timedelta

import pytest
from django.template.loader import render_to_string

from progress.engine.attention import Code as LookIn
from progress.engine.attention import Reason as LookInReason
from progress.engine.attention import Standing, standing
from progress.engine.parameters import USUAL
from progress.engine.readiness import Outcome, assess
from progress.engine.reasons import Code, Reason
from tests.progress.engine import vectors

TIME_SIGNATURE = re.compile(r"(?<![0-9/])(12/8|8/4|4/4|8/8)(?![0-9/])")
TODAY = date(2026, 11, 25)


@pytest.fixture(scope="module")
def found():
    return [assess(vectors.evidence(one), vectors.day(one)) for one in vectors.SCENARIOS]


def said(reason, assessment) -> str:
    context = {"reason": reason, "found": assessment, "parameters": USUAL}
    return " ".join(render_to_string("progress/_reason.html", context).split())


@pytest.mark.parametrize("code", list(Code))
@pytest.mark.parametrize("figure", [0.0, 1.0, 0.42, -1.3, 12.0])
def test_every_reason_carries_its_number(code, figure, found):
    words = said(Reason(code, figure), found[0])

    assert re.search(r"[0-9]", words), code
    assert words.endswith(".")
    assert not TIME_SIGNATURE.search(words)


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


@pytest.mark.parametrize(
    ("outcome", "days_left", "stands"),
    [
        (Outcome.KEEP_GOING, 5, Standing.NO_CONCERN),
        (Outcome.KEEP_GOING, 4, Standing.NOT_CLEAR),
        (Outcome.MAY_BE_READY, 3, Standing.MAY_BE_READY),
        (Outcome.REPEAT, 1, Standing.REPEAT),
        (Outcome.TOO_LITTLE, 20, Standing.NOT_ENOUGH),
        (Outcome.EASE_OFF, 20, Standing.REST_AND_ASK),
    ],
)
def test_an_outcome_has_its_sign(outcome, days_left, stands):
    last_day = TODAY + timedelta(days=days_left)

    assert standing(outcome, (), day=TODAY, last_day=last_day) is stands


@pytest.mark.parametrize(
    ("code", "stands"), [(LookIn.HURT, Standing.REST_AND_ASK), (LookIn.QUIET, Standing.LOOK_IN)]
)
def test_what_needs_the_teacher_goes_before_what_may_be_ready(code, stands):
    reason = LookInReason(code=code, figure=8, since=TODAY)

    found = standing(Outcome.MAY_BE_READY, (reason,), day=TODAY, last_day=TODAY)

    assert found is stands
    assert list(Standing).index(stands) < list(Standing).index(Standing.MAY_BE_READY)
