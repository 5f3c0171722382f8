"""Which valves or which slide position give a note: the harmonic rule.

Conventions: the open tube sounds the natural series over its fundamental (partial 1); valves and
slide add tubing and lower every partial by the same number of half steps. A fingering fits a note
when open partial minus added half steps is the note. ``fundamental`` and ``note`` are written MIDI
numbers, cents are positive when sharp.

Sources: partial n lies 1200 * log2(n) cents over the fundamental, and added lengths add up, so two
valves together are always a little short (acoustics of the air column; for the trumpet C. W. Monk
in A. Baines, ed., Musical Instruments Through the Ages). Which of the fitting choices is the usual
one is common practice, and is checked against published fingering charts.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

VALVE_HALF_STEPS = {"1": 2, "2": 1, "3": 3, "4": 5}
SLIDE_POSITIONS = 7
THREE_VALVE_REACH = 6
FOUR_VALVE_REACH = 11
ATTACHMENT_HALF_STEPS = 5

# The fundamental is a pedal note; 7, 11 and 13 to 15 lie too far from the tempered scale for
# valves. A slide can make good the flat seventh.
_VALVE_PARTIALS = (2, 3, 4, 5, 6, 8, 9, 10, 12, 16)
_SLIDE_PARTIALS = (2, 3, 4, 5, 6, 7, 8, 9, 10, 12)
_ATTACHMENT_PARTIALS = (2, 3, 4)
# Players leave out the ninth in favour of the tenth; on the short B-flat side of a double horn
# the ninth speaks safely, and the flat fifth and tenth are left out instead.
_USUAL_PARTIALS = (2, 3, 4, 5, 6, 8, 10, 12, 16)
_USUAL_PARTIALS_B_FLAT_SIDE = (2, 3, 4, 6, 8, 9, 12, 16)
_B_FLAT_SIDE_ABOVE_F_SIDE = 5
# Written A flat 4: published charts keep the F side up to second-line G.
_FIRST_NOTE_ON_B_FLAT_SIDE = 68


class Mechanism(StrEnum):
    """What lengthens the tube."""

    VALVES = "valves"
    SLIDE = "slide"
    DOUBLE_HORN = "double horn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingering:
    """One way to play a note.

    ``text`` is "0" for open, valves as in "12", "T" first with the thumb valve down (B-flat side
    of a double horn, F attachment of a trombone), or a slide position "1" to "7". ``half_steps``
    is the tubing added, the F attachment's five too, to the side of the horn in use.
    """

    text: str
    partial: int
    half_steps: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Tubing:
    """The lengths a player has: what the rule needs to know of an instrument and its set-up.

    ``compensating`` matters with four valves only, ``attachment`` is a trombone's F attachment;
    ``highest_partial`` is the last one that is offered at all.
    """

    fundamental: int
    mechanism: Mechanism
    valves: int = 3
    compensating: bool = True
    attachment: bool = False
    highest_partial: int = 12

    @property
    def reach(self) -> int:
        """Half steps below the second partial that can be played."""
        if self.mechanism is not Mechanism.VALVES or self.valves < 4:
            return THREE_VALVE_REACH
        return FOUR_VALVE_REACH if self.compensating else FOUR_VALVE_REACH - 1

    @property
    def lowest(self) -> int:
        """The lowest written note without pedal notes."""
        return above(self.fundamental, 2) - self.reach


def above(fundamental: int, partial: int) -> int:
    """Nearest note to a partial: fundamental + 12 * log2(partial), rounded to the half step."""
    return fundamental + round(12 * math.log2(partial))


def partial_cents(partial: int) -> float:
    """How far a partial lies from the tempered scale, in cents; the fifth is 13.7 flat."""
    exact = 1200 * math.log2(partial)
    return exact - 100 * round(exact / 100)


def combination_cents(valves: str, *, compensating: bool = False) -> float:
    """How sharp valves are together when each alone is in tune, in cents ("13": 30.3).

    A valve of s half steps adds 2 ** (s / 12) - 1 of the tube. On a compensating instrument the
    fourth valve brings longer loops into the others, as if the tube began at the fourth valve.
    """
    used = [valve for valve in valves if valve in VALVE_HALF_STEPS]
    if compensating and "4" in used:
        used.remove("4")
    length = 1 + sum(2 ** (VALVE_HALF_STEPS[valve] / 12) - 1 for valve in used)
    return 100 * sum(VALVE_HALF_STEPS[valve] for valve in used) - 1200 * math.log2(length)


def usual_valves(half_steps: int, *, valves: int = 3) -> str:
    """Valves a player takes to lower the tube by that many half steps.

    The fourth valve first where there is one and it fits; 1 and 2 rather than 3 alone.
    """
    fourth = valves >= 4 and half_steps >= VALVE_HALF_STEPS["4"]
    rest = half_steps - (VALVE_HALF_STEPS["4"] if fourth else 0)
    three = {0: "", 1: "2", 2: "1", 3: "12", 4: "23", 5: "13", 6: "123"}[rest]
    return three + ("4" if fourth else "") or "0"


def usual(tubing: Tubing, note: int) -> Fingering | None:
    """Find the choice of common practice: the shortest tube that gives the note; None if none."""
    if tubing.mechanism is Mechanism.SLIDE:
        return _usual_slide(tubing, note)
    if tubing.mechanism is Mechanism.DOUBLE_HORN and note >= _FIRST_NOTE_ON_B_FLAT_SIDE:
        fundamental = tubing.fundamental + _B_FLAT_SIDE_ABOVE_F_SIDE
        found = _usual_valved(fundamental, _USUAL_PARTIALS_B_FLAT_SIDE, note, valves=3)
        return found and _with_thumb(found)
    four = tubing.mechanism is Mechanism.VALVES and tubing.valves >= 4
    found = _usual_valved(tubing.fundamental, _USUAL_PARTIALS, note, valves=4 if four else 3)
    if found and four and not tubing.compensating and found.half_steps > THREE_VALVE_REACH:
        return _one_half_step_longer(found)
    return found


def alternates(tubing: Tubing, note: int) -> tuple[Fingering, ...]:
    """All other choices, the nearest partial to the usual one first, then the fewest fingers."""
    chosen = usual(tubing, note)
    if chosen is None:
        return ()
    others = {one for one in _fitting(tubing, note) if one != chosen}
    if not tubing.compensating:
        others = {one for one in others if one.half_steps <= THREE_VALVE_REACH}
    nearness = {one: abs(one.partial - chosen.partial) for one in others}
    return tuple(sorted(others, key=lambda one: (nearness[one], len(one.text), one.text)))


def _usual_valved(
    fundamental: int, partials: tuple[int, ...], note: int, *, valves: int
) -> Fingering | None:
    reach = FOUR_VALVE_REACH if valves >= 4 else THREE_VALVE_REACH
    for partial in partials:
        half_steps = above(fundamental, partial) - note
        if 0 <= half_steps <= reach:
            text = usual_valves(half_steps, valves=valves)
            return Fingering(text=text, partial=partial, half_steps=half_steps)
    return None


def _usual_slide(tubing: Tubing, note: int) -> Fingering | None:
    """Take the shortest slide; the flat seventh partial only where the slide can be drawn in."""
    for partial in _SLIDE_PARTIALS:
        half_steps = above(tubing.fundamental, partial) - note
        too_flat = partial == 7 and half_steps == 0
        if 0 <= half_steps < SLIDE_POSITIONS and not too_flat:
            return Fingering(text=str(half_steps + 1), partial=partial, half_steps=half_steps)
    return None


def _one_half_step_longer(nominal: Fingering) -> Fingering | None:
    """Take one half step more tubing, as charts for non-compensating instruments do."""
    half_steps = nominal.half_steps + 1
    if half_steps > FOUR_VALVE_REACH:
        return None
    text = usual_valves(half_steps, valves=4)
    return Fingering(text=text, partial=nominal.partial, half_steps=half_steps)


def _fitting(tubing: Tubing, note: int) -> Iterator[Fingering]:
    """Every fingering whose open partial minus added half steps is the note."""
    if tubing.mechanism is Mechanism.SLIDE:
        yield from _fitting_slide(tubing, note)
        return
    valves = "1234" if tubing.mechanism is Mechanism.VALVES and tubing.valves >= 4 else "123"
    yield from _fitting_valves(tubing, tubing.fundamental, note, valves)
    if tubing.mechanism is Mechanism.DOUBLE_HORN:
        fundamental = tubing.fundamental + _B_FLAT_SIDE_ABOVE_F_SIDE
        yield from map(_with_thumb, _fitting_valves(tubing, fundamental, note, valves))


def _fitting_valves(
    tubing: Tubing, fundamental: int, note: int, valves: str
) -> Iterator[Fingering]:
    partials = [one for one in _VALVE_PARTIALS if one <= tubing.highest_partial]
    for count in range(len(valves) + 1):
        for pressed in combinations(valves, count):
            half_steps = sum(VALVE_HALF_STEPS[valve] for valve in pressed)
            for partial in partials:
                if above(fundamental, partial) - half_steps == note:
                    text = "".join(pressed) or "0"
                    yield Fingering(text=text, partial=partial, half_steps=half_steps)


def _fitting_slide(tubing: Tubing, note: int) -> Iterator[Fingering]:
    for partial in _SLIDE_PARTIALS:
        half_steps = above(tubing.fundamental, partial) - note
        if 0 <= half_steps < SLIDE_POSITIONS:
            yield Fingering(text=str(half_steps + 1), partial=partial, half_steps=half_steps)
        # Only first position: further out the longer tube needs wider steps than positions name.
        on_attachment = tubing.attachment and partial in _ATTACHMENT_PARTIALS
        if on_attachment and half_steps == ATTACHMENT_HALF_STEPS:
            yield Fingering(text="T1", partial=partial, half_steps=half_steps)


def _with_thumb(fingering: Fingering) -> Fingering:
    text = "T" + fingering.text
    return Fingering(text=text, partial=fingering.partial, half_steps=fingering.half_steps)
