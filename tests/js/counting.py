"""An independent count-through of a session: every count in a row, in whole fractions of a second.

It shares nothing with the player: the player looks times up and divides, this one counts one, two,
three as a musician does and then looks for the last count that has begun. Its one fact from outside
is the meaning of a tempo: that many counts in a minute (a metronome mark).
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any


@dataclass(frozen=True)
class Count:
    """One count: when it begins (seconds from the first attack) and what a player would say."""

    begins: Fraction
    phase: str
    index: int
    count: int
    counts: int


def counted(notes: int, hold: int, rest: int, tempo: int, count_in: int) -> list[Count]:
    """Count a session through, from the count-in to the last count of the last note."""
    rows: list[Count] = []
    begins = Fraction(-count_in * 60, tempo)

    def say(phase: str, index: int, counts: int) -> None:
        nonlocal begins
        for count in range(1, counts + 1):
            rows.append(Count(begins, phase, index, count, counts))
            begins += Fraction(60, tempo)

    say("count-in", 0, count_in)
    for index in range(notes):
        say("hold", index, hold)
        if index < notes - 1:
            say("rest", index, rest)
    return rows


def place_at(rows: list[Count], second: Fraction) -> dict[str, Any]:
    """Say where the session stands at a second that lies within it."""
    row = [row for row in rows if row.begins <= second][-1]
    length = rows[1].begins - rows[0].begins
    gone = second - row.begins + (row.count - 1) * length
    return {
        "phase": row.phase,
        "index": row.index,
        "count": row.count,
        "counts": row.counts,
        "left": row.counts - row.count + 1,
        "fraction": round(float(gone / (row.counts * length)), 9),
        "breathe": row.phase != "hold" and row.count > row.counts - 2,
    }


def golden(notes: int, hold: int, rest: int, tempo: int, count_in: int) -> dict[str, Any]:
    """Work out a golden timeline: a place on each count, at its middle, and every click."""
    rows = counted(notes, hold, rest, tempo, count_in)
    length = Fraction(60, tempo)
    seconds = [moment for row in rows for moment in (row.begins, row.begins + length / 2)]
    end = rows[-1].begins + length
    return {
        "source": "Counted through by tests/js/counting.py: a count lasts 60 / tempo seconds.",
        "session": {
            "notes": notes, "hold": hold, "rest": rest, "tempo": tempo, "count_in": count_in,
        },
        "ends": round(float(end), 9),
        "places": [{"seconds": float(at), **place_at(rows, at)} for at in seconds],
        "clicks": [[round(float(row.begins), 9), click_kind(row)] for row in rows]
        + [[round(float(end), 9), "release"]],
    }  # fmt: skip


def click_kind(row: Count) -> str:
    """Name the click of a count: the first of a hold and the first of a rest stand out."""
    first = {"hold": "attack", "rest": "release"}
    return first.get(row.phase, row.phase) if row.count == 1 else row.phase
