"""The highest good notes of a month, few enough to read at a glance.

Conventions: a note is a written MIDI number; one entry a day, the earliest first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

MOST_SHOWN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class HighNote:
    """The last good note of a day."""

    day: date
    note: int


def high_points(notes: Sequence[HighNote], most: int = MOST_SHOWN) -> tuple[HighNote, ...]:
    """Choose at most `most` notes: all of them, or the highest of each of as many even stretches.

    A stretch is a run of entries, the longer ones first; of equal notes the first one reached
    stands for its stretch.
    """
    if len(notes) <= most:
        return tuple(notes)
    shortest, longer = divmod(len(notes), most)
    chosen, begin = [], 0
    for number in range(most):
        end = begin + shortest + (number < longer)
        chosen.append(max(notes[begin:end], key=lambda one: one.note))
        begin = end
    return tuple(chosen)
