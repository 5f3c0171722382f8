"""Decisions for whoever re-fits the assessment: what was said, what was done, what was heard next.

Conventions: ids, no names and no words of anybody's; days are written YYYY-MM-DD, moments in UTC;
ratings are 1 to 5 in the order attack, sound, evenness, release. `said` is the evidence as it stood
on the page, in the form of ``assess``.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, timedelta
from typing import Any

from progress.models import RATINGS, Decision, LessonRating
from routines.models import Block
from routines.queries import version_on
from studio.access import practice_day

HEARD_WITHIN_DAYS = 14
SCALED = ("start_note", "low_note", "top_note", "back", "hold", "rest", "tempo", "dynamics")


def lines(decisions: Iterable[Decision]) -> Iterator[dict[str, Any]]:
    """Give one object a decision, in the order they come."""
    for decision in decisions:
        heard = _heard_after(decision)
        following = decision.next_block
        yield {
            "decision": decision.public_id,
            "studio": decision.student.studio.public_id,
            "student": decision.student.public_id,
            "block": decision.block.public_id,
            "decided_at": decision.decided_at.astimezone(UTC).isoformat(),
            "undone": decision.undone_at is not None,
            "choice": decision.choice,
            "variables": decision.variables,
            "said": decision.seen,
            "asked": _asked(decision.block),
            "next": _asked(following) if following else None,
            "heard_on": heard.day.isoformat() if heard else None,
            "heard": [getattr(heard, name) for name in RATINGS] if heard else None,
        }


def _heard_after(decision: Decision) -> LessonRating | None:
    """Find the first lesson after the evidence, within two weeks: what the teacher then heard."""
    day = practice_day(decision.student.studio, decision.decided_at)
    rows = LessonRating.objects.filter(
        student=decision.student, day__gt=day, day__lte=day + timedelta(days=HEARD_WITHIN_DAYS)
    )
    found: LessonRating | None = rows.order_by("day").first()
    return found


def _asked(block: Block) -> dict[str, Any]:
    version = version_on(block, block.last_day)
    return {
        "first_day": block.first_day.isoformat(),
        "last_day": block.last_day.isoformat(),
        "instrument": block.instrument,
        "variant": block.variant,
        **{name: getattr(version, name) for name in SCALED},
    }
