"""One plan for a section, carried over to every instrument in it.

Conventions: notes are written MIDI numbers. Either every player begins on the instrument's own
start note (`carry`), or all sound the same notes, in unison and octaves (`in_concert`). A note past
the end of an instrument's chart stops at that end; `falls_short` says by how much.
Sources: the letter of a written note follows from the transposition. Which octave a section plays
in is common practice, no published source: the one nearest the instrument's own start note.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from routines.engine.instruments import Instrument, Setup, move, tubing
from routines.engine.plan import BlockPlan

OCTAVE = 12


class Pitch(StrEnum):
    """What the players of a section have in common: how far they walk, or what sounds."""

    OWN = "own"
    CONCERT = "concert"


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """By how many half steps a player's walk ends before the plan's, below and above."""

    below: int = 0
    above: int = 0

    def __bool__(self) -> bool:
        """Whether anything of the plan does not fit."""
        return bool(self.below or self.above)


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


def in_concert(plan: BlockPlan, instrument: Instrument, setup: Setup) -> BlockPlan:
    """Return the plan as another player reads it to sound the same notes, or octaves of them.

    An octave above or below the usual one stays so for everybody, where their charts allow it.
    """
    start = concert_note(plan, instrument, setup)
    lowest = tubing(instrument, setup).lowest
    top = None if plan.top_note is None else start + plan.top_note - plan.start_note
    return replace(
        plan,
        instrument=instrument.id,
        setup=setup,
        start_note=start,
        low_note=max(start + plan.low_note - plan.start_note, lowest),
        top_note=None if top is None else min(top, instrument.highest),
    )


def concert_note(plan: BlockPlan, instrument: Instrument, setup: Setup) -> int:
    """Return the written note that sounds like the plan's start note, in this player's octave."""
    away = plan.start_note - plan.player.start_note
    octaves = (abs(away) + OCTAVE // 2 - 1) // OCTAVE
    middle = instrument.start_note + (octaves if away > 0 else -octaves) * OCTAVE
    below = (instrument.sounding(middle) - plan.player.sounding(plan.start_note)) % OCTAVE
    # Half an octave away there are two nearest notes: the one on the plan's side of the start.
    is_below = below <= OCTAVE // 2 - (away > 0)
    note = middle - below if is_below else middle - below + OCTAVE
    while note < tubing(instrument, setup).lowest:
        note += OCTAVE
    while note > instrument.highest:
        note -= OCTAVE
    return note


def falls_short(plan: BlockPlan, carried: BlockPlan) -> Short:
    """Say by how many half steps a walk that was carried over ends before the plan's own."""
    below = (plan.start_note - plan.low_note) - (carried.start_note - carried.low_note)
    if plan.top_note is None or carried.top_note is None:
        return Short(below=below)
    above = (plan.top_note - plan.start_note) - (carried.top_note - carried.start_note)
    return Short(below=below, above=above)
