"""A first block for a grade: where a teacher may begin for an instrument.

Conventions: notes are written MIDI numbers. The ranges are those of `instrument_table`, where their
sources stand. A beginner holds 4 and rests 4 inside the beginner's range, because eight counts are
more than one breath for many beginners; that, and that an intermediate player stays inside the
intermediate range, is common practice, no published source.
"""

from dataclasses import replace
from enum import StrEnum

from routines.engine import instruments
from routines.engine.instruments import Instrument, Setup
from routines.engine.plan import BlockPlan, baseline

BEGINNERS_HOLD = BEGINNERS_REST = 4


class Tier(StrEnum):
    """How far a player has come; the values are those of a student's grade."""

    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    OPEN = "open"


def first_block(tier: Tier, instrument: Instrument, setup: Setup = instruments.USUAL) -> BlockPlan:
    """Return the baseline inside the range of a tier; open is the instrument's whole walk."""
    plan = baseline(instrument, setup)
    if tier is Tier.OPEN:
        return plan
    span = instrument.beginner if tier is Tier.BEGINNER else instrument.intermediate
    lowest = instruments.tubing(instrument, setup).lowest
    ranged = replace(plan, low_note=max(span.low, lowest), top_note=span.high)
    if tier is Tier.INTERMEDIATE:
        return ranged
    return replace(ranged, hold=BEGINNERS_HOLD, rest=BEGINNERS_REST)
