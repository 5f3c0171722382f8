"""One plan for a section: the same number of half steps on every instrument.

Conventions: a note is carried over by its distance from the instrument's own start note, so that
everybody walks as far down and up; a note past the end of an instrument's chart stops at that end.
"""

from dataclasses import replace

from routines.engine.instruments import Instrument, Setup, move
from routines.engine.plan import BlockPlan


def carry(plan: BlockPlan, instrument: Instrument, setup: Setup) -> BlockPlan:
    """Return the plan as another player reads it; counts, tempo and dynamics stay."""
    if instrument.id == plan.instrument and setup == plan.setup:
        return plan

    def carried(note: int) -> int:
        return move(note, plan.player, instrument, setup)

    return replace(
        plan,
        instrument=instrument.id,
        setup=setup,
        start_note=carried(plan.start_note),
        low_note=carried(plan.low_note),
        top_note=None if plan.top_note is None else carried(plan.top_note),
    )
