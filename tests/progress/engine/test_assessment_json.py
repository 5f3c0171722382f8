"""An assessment as the object that `assess` prints and a decision keeps."""

from progress.engine.assessment_json import as_json
from progress.engine.readiness import assess
from routines.engine.variants import Variant
from tests.progress.engine import vectors

READY = vectors.evidence(vectors.named("h-ready"))


def test_an_object_says_what_the_assessment_says():
    day = READY.block.last_day
    found = assess(READY, day)

    said = as_json("Ida", found)

    step = said.pop("variant")
    assert said == {
        "id": "Ida",
        "day": day.isoformat(),
        "outcome": "may be ready",
        "probability": found.chance,
        "weakest": found.weakest.value,
        "bias": found.bias,
        "reasons": [[reason.code.value, reason.figure] for reason in found.reasons],
    }
    assert found.proposal is not None
    assert step == {
        "variant": "dynamic"
        if found.proposal.variant is Variant.CONTRAST
        else found.proposal.variant.value,
        "hold": found.proposal.hold,
        "rest": found.proposal.rest,
        "final_hold": found.proposal.final_hold,
        "final_rest": found.proposal.final_rest,
        "hold_seconds": found.proposal.hold_seconds,
        "recent_hold_seconds": found.proposal.recent_hold_seconds,
        "ratio": found.proposal.ratio,
        "duty": found.proposal.duty,
    }


def test_without_a_step_the_variant_is_none():
    found = assess(READY, READY.block.start)

    assert found.proposal is None
    assert as_json(7, found)["variant"] is None
