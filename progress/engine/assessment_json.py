"""An assessment as a JSON object: what ``assess`` prints and what a decision keeps.

Conventions: chances and shares are 0 to 1, levels 1 to 5, seconds of one session; a reason is its
code and its figure.
"""

from typing import Any

from progress.engine.proposal import Proposal
from progress.engine.readiness import Assessment
from routines.engine.variants import Variant

# What a reader of the lines calls it; on screen and in the engine it is a contrast.
WORDS = {Variant.CONTRAST: "dynamic"}


def as_json(name: str | int, assessment: Assessment) -> dict[str, Any]:
    """Give the object of one student on one day."""
    return {
        "id": name,
        "day": assessment.day.isoformat(),
        "outcome": assessment.outcome.value,
        "probability": assessment.chance,
        "weakest": assessment.weakest.value,
        "bias": assessment.bias,
        "reasons": [[reason.code.value, reason.figure] for reason in assessment.reasons],
        "variant": _variant(assessment.proposal),
    }


def _variant(proposal: Proposal | None) -> dict[str, Any] | None:
    if proposal is None:
        return None
    return {
        "variant": WORDS.get(proposal.variant, proposal.variant.value),
        "hold": proposal.hold,
        "rest": proposal.rest,
        "final_hold": proposal.final_hold,
        "final_rest": proposal.final_rest,
        "hold_seconds": proposal.hold_seconds,
        "recent_hold_seconds": proposal.recent_hold_seconds,
        "ratio": proposal.ratio,
        "duty": proposal.duty,
    }
