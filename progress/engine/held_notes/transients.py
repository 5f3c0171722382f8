"""How a note begins and ends in pitch: scooped up to, on a wrong partial, sagging off."""

from dataclasses import dataclass

import numpy as np

from progress.engine.held_notes import contour
from progress.engine.held_notes.signals import Bands, Numbers

STEP = 0.005
CLEAR = 0.80
CLEAR_AT_EDGE = 0.70
FIRST_SECONDS = 0.060
SETTLED = (0.3, 0.8)
SCOOP_CENTS = 12.0
SAG_CENTS = 15.0
PARTIAL_SECONDS = 0.3
PARTIAL_PIECE = 0.030
PARTIAL_CENTS = 80.0
PARTIAL_LEVEL = 14.0
LEAST_FRAMES = 4
STEADY_SHARE = 0.9


@dataclass(frozen=True, kw_only=True)
class Transients:
    """Deviation of the first and of the last 60 ms (cents, or None); a wrong partial first."""

    start: float | None
    end: float | None
    wrong_partial: bool

    @property
    def scoop(self) -> bool:
        """Whether the note was entered from below: 12 cents or more, on the right partial."""
        return self.start is not None and self.start <= -SCOOP_CENTS and not self.wrong_partial

    @property
    def sag(self) -> bool:
        """Whether the pitch sank at the end: by 15 cents or more."""
        return self.end is not None and self.end <= -SAG_CENTS


def transients(bands: Bands, start: float, end: float, hertz: float) -> Transients:
    """Look at both ends of a note of this pitch (Hz) from start to end (s)."""
    window = contour.edge_window(hertz)
    settled = (start + SETTLED[0], min(start + SETTLED[1], end))
    wrong = _is_on_wrong_partial(bands, start, hertz, window, settled)
    first = _follow(bands, (start, start + FIRST_SECONDS), hertz, window)
    after = _follow(bands, settled, hertz, window)
    last = _follow(bands, (end - FIRST_SECONDS, end), hertz, window)
    before = _follow(bands, (max(start, end - SETTLED[1]), end - SETTLED[0]), hertz, window)
    off = _apart(first, after)
    # The looks are of different reach: in the lowest notes only the narrow one is clear enough.
    wrong = wrong or (off is not None and abs(off) > PARTIAL_CENTS)
    return Transients(start=off, end=_apart(last, before), wrong_partial=wrong)


def _follow(bands: Bands, span: tuple[float, float], hertz: float, window: float) -> Numbers:
    """Read the pitch (cents from this one) in a stretch of time, where it is clear."""
    times = np.arange(span[0], span[1] + STEP / 2, STEP)
    if not len(times):
        return np.zeros(0)
    seen = contour.fine((bands.fine, bands.coarse), times, window, hertz)
    return contour.cents(seen.hertz, hertz)[(seen.clarity >= CLEAR_AT_EDGE) & (seen.hertz > 0)]


def _apart(some: Numbers, settled: Numbers) -> float | None:
    if len(some) < LEAST_FRAMES or len(settled) < LEAST_FRAMES:
        return None
    return float(np.median(some) - np.median(settled))


def _is_on_wrong_partial(
    bands: Bands, start: float, hertz: float, window: float, settled: tuple[float, float]
) -> bool:
    """Tell whether the first 0.3 s have 30 ms or more on another partial.

    The settled part is read in the same way: where that comes out on another partial too, as it can
    with partials of odd number missing, the reading says nothing.
    """
    early = _readings(bands, (start, start + PARTIAL_SECONDS), hertz, window)
    later = _readings(bands, settled, hertz, window)
    if not len(later) or np.mean(np.abs(later) <= PARTIAL_CENTS) < STEADY_SHARE:
        return False
    return bool(np.count_nonzero(np.abs(early) > PARTIAL_CENTS) * STEP >= PARTIAL_PIECE)


def _readings(bands: Bands, span: tuple[float, float], hertz: float, window: float) -> Numbers:
    times = np.arange(span[0], span[1] + STEP / 2, STEP)
    if not len(times):
        return np.zeros(0)
    widest = (max(hertz / contour.WIDE, contour.LOWEST_HERTZ), hertz * contour.WIDE)
    signal = bands.coarse if hertz < contour.SLOW_BELOW_HERTZ else bands.fine
    seen = contour.octave_safe(signal, times, window, widest)
    return contour.cents(seen.hertz, hertz)[(seen.clarity >= CLEAR) & (seen.hertz > 0)]
