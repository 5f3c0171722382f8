"""What to know before reading the figures of a clip: each caution is one code."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from progress.engine.held_notes.signals import Samples


class Caution(StrEnum):
    """The codes, in the order in which they are listed."""

    PROCESSED = "processed"
    CLIPPED = "clipped"
    QUIET = "quiet"
    NOISY = "noisy"
    REVERBERANT = "reverberant"
    GAP = "gap"
    NO_SILENCE = "no_silence"
    TOO_SHORT = "too_short"
    NARROW_BAND = "narrow_band"
    NO_NOTES = "no_notes"
    NOT_AS_EXPECTED = "not_as_expected"


SHORTEST_CLIP = 5.0
NOISY_BELOW = 25.0
QUIET_BELOW = -45.0
REVERBERANT_FROM = 0.40
GAP_SECONDS = 0.004
# A clip has clipped when the last thousandth of its height holds more samples than the next nine:
# the crest of a sine has half as many there.
TOP, NEXT = 0.001, 0.010
COARSE_TOP, COARSE_NEXT = 0.012, 0.09
FEWEST_CLIPPED = 24
FLAT_SAMPLES = 3
SILENT = 1e-7


@dataclass(frozen=True, kw_only=True)
class Raw:
    """What only the recording as it came can tell: clipped, and where the sound dropped out (s)."""

    clipped: bool
    gaps: tuple[tuple[float, float], ...]


def look_at(samples: Samples, rate: int, *, eight_bits: bool) -> Raw:
    """Look at every channel of (frames, channels) for clipping, and at all for drop-outs."""
    columns = samples.reshape(len(samples), -1)
    clipped = any(_has_clipped(column, eight_bits=eight_bits) for column in columns.T)
    return Raw(clipped=clipped, gaps=_gaps(columns, rate))


def _has_clipped(samples: Samples, *, eight_bits: bool) -> bool:
    size = np.abs(samples)
    peak = float(size.max(initial=0.0))
    top, beside = (COARSE_TOP, COARSE_NEXT) if eight_bits else (TOP, NEXT)
    if peak < 0.05:
        return False
    at_top = size >= peak * (1 - top)
    highest = int(np.count_nonzero(at_top))
    following = int(np.count_nonzero(size >= peak * (1 - beside))) - highest
    if highest < FEWEST_CLIPPED or highest <= following:
        return False
    flat = at_top[2:] & at_top[1:-1] & at_top[:-2]
    return int(np.count_nonzero(flat)) >= FLAT_SAMPLES * 4


def _gaps(columns: Samples, rate: int) -> tuple[tuple[float, float], ...]:
    silent = np.abs(columns).max(axis=1) <= SILENT
    firsts, lasts = _stretches(silent)
    long = (lasts - firsts) >= GAP_SECONDS * rate
    return tuple(
        (float(first / rate), float(last / rate))
        for first, last in zip(firsts[long], lasts[long], strict=True)
    )


def _stretches(of: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], of.astype(np.int8), [0]))))
    return edges[::2], edges[1::2]


def has_gap(gaps: tuple[tuple[float, float], ...], start: float, end: float) -> bool:
    """Tell whether the sound dropped out, to nothing at all, inside a note."""
    return any(first > start + 0.05 and last < end - 0.05 for first, last in gaps)
