"""Counts, the grid of the click, and which expected note each played one stands for."""

import math
from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from progress.engine.held_notes.request import Request

SHORT_BY = 0.5
# Leaving an expected note out costs as much as missing it by this many half steps.
SKIPPING = 3.0


def to_midi(hertz: float, a4: float) -> float:
    """Give the place of a frequency among the MIDI numbers; A4 is 69, a cent is 0.01."""
    return 69 + 12 * math.log2(hertz / a4)


def to_hertz(midi: float, a4: float) -> float:
    """Give the frequency of a MIDI number in equal temperament: A4 x 2^((m - 69) / 12)."""
    return a4 * float(2 ** ((midi - 69) / 12))


def counts(seconds: float, tempo: float | None) -> float | None:
    """Turn seconds into counts; None without a tempo."""
    return None if tempo is None else seconds * tempo / 60


def is_short(played: float | None, wanted: float | None) -> bool:
    """Tell whether a hold or a rest lacks more than half a count."""
    return played is not None and wanted is not None and played < wanted - SHORT_BY


def onsets_on_grid(starts: Sequence[float], request: Request) -> list[float | None]:
    """Tell how far each start lies behind its place in the grid, in ms, the median taken away.

    The median takes the unknown delay of the recording away. A note that is not there leaves its
    place in the grid empty.
    """
    if request.tempo is None or request.hold is None or request.rest is None or not starts:
        return [None] * len(starts)
    cycle = (request.hold + request.rest) * 60 / request.tempo
    places = [round((start - starts[0]) / cycle) for start in starts]
    if any(place <= before for before, place in pairwise(places)):
        places = list(range(len(starts)))
    late = [start - place * cycle for start, place in zip(starts, places, strict=True)]
    middle = median(late)
    return [1000 * (value - middle) for value in late]


def expected_of(heard: Sequence[float | None], expected: Sequence[int]) -> list[int | None]:
    """Give each played note the expected one it stands for, in order.

    As many as expected: one after the other. Else the pairing in order that fits the pitches best;
    a note that fits none has None. `heard` are MIDI numbers with their fraction.
    """
    if not expected:
        return [None] * len(heard)
    if len(heard) == len(expected):
        return list(expected)
    return _paired(heard, expected)


def _paired(heard: Sequence[float | None], expected: Sequence[int]) -> list[int | None]:
    rows, columns = len(heard) + 1, len(expected) + 1
    cost = [[SKIPPING * (row + column) for column in range(columns)] for row in range(rows)]
    for row in range(1, rows):
        for column in range(1, columns):
            cost[row][column] = min(
                cost[row - 1][column - 1] + _distance(heard[row - 1], expected[column - 1]),
                cost[row - 1][column] + SKIPPING,
                cost[row][column - 1] + SKIPPING,
            )
    found: list[int | None] = [None] * len(heard)
    row, column = rows - 1, columns - 1
    while row and column:
        fit = cost[row - 1][column - 1] + _distance(heard[row - 1], expected[column - 1])
        if cost[row][column] == fit:
            row, column = row - 1, column - 1
            found[row] = expected[column]
        elif cost[row][column] == cost[row - 1][column] + SKIPPING:
            row -= 1
        else:
            column -= 1
    return found


def _distance(heard: float | None, expected: int) -> float:
    return SKIPPING if heard is None else min(abs(heard - expected), 2 * SKIPPING)
