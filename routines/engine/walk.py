"""The walk: in which order the notes of a session come. Nobody else computes a next note.

Conventions: notes are written MIDI numbers, one half step apart inside a part. From the start note
down to the low note; then either lift off and restart on the start note, or step back up to it;
then up to the top. Trumpet G4, F#3, G5: 27 notes restarting, 39 stepping back.
"""

from dataclasses import dataclass
from enum import StrEnum


class WayBack(StrEnum):
    """How the player gets from the low note back to the start note."""

    RESTART = "restart"
    STEP = "step"


class Part(StrEnum):
    """Where in the walk a note stands."""

    DOWN = "down"
    BACK = "back"
    UP = "up"


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkNote:
    """One note of the walk."""

    note: int
    part: Part


def walk(*, start: int, low: int, top: int, back: WayBack) -> tuple[WalkNote, ...]:
    """Order the notes of a session.

    Without a way down (low = start) the start note is played once and everything is the way up.
    ValueError unless low <= start <= top: a plan never comes here otherwise.
    """
    if not low <= start <= top:
        raise ValueError(f"Walk {low}, {start}, {top}: give low, start and top in rising order.")
    down = range(start, low - 1, -1) if low < start else range(0)
    steps_back = back is WayBack.STEP and low < start
    returning = range(low + 1, start + 1) if steps_back else range(0)
    up = range(start + 1 if steps_back else start, top + 1)
    return (*_part(down, Part.DOWN), *_part(returning, Part.BACK), *_part(up, Part.UP))


def _part(notes: range, part: Part) -> tuple[WalkNote, ...]:
    return tuple(WalkNote(note=note, part=part) for note in notes)
