"""Pitch along time: the octave-safe look at the whole clip, and the fine look at one note."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from progress.engine.held_notes import difference
from progress.engine.held_notes.signals import Numbers, Samples, Signal

LOWEST_HERTZ = 26.0
HIGHEST_HERTZ = 1600.0
COARSE_FRAME = 0.085
COARSE_STEP = 0.020
FINE_STEP = 0.010
FINE_PERIODS = 6
FINE_FRAME = (0.030, 0.120)
EDGE_PERIODS = 3
EDGE_FRAME = (0.025, 0.100)
NARROW = 1.6
WIDE = 2.6
FIRST_SHARE = 0.93
DIP = 0.4
REFINE_WITHIN = 0.6
REFINE_HEIGHT = 0.7
REFINE_SAMPLES = 1.6
# Below this pitch the fine look works on the 12 kHz form: a period has samples enough there.
SLOW_BELOW_HERTZ = 190.0


@dataclass(frozen=True, kw_only=True)
class Contour:
    """Pitch (Hz) and clarity (0 to 1) at these times (s), from windows of `window` seconds."""

    times: Numbers
    hertz: Numbers
    clarity: Numbers
    window: float


def coarse(signal: Signal) -> Contour:
    """Follow the pitch through the whole clip in steps of 20 ms."""
    count = max(1, int(signal.seconds / COARSE_STEP))
    times = (np.arange(count) + 0.5) * COARSE_STEP
    return octave_safe(signal, times, COARSE_FRAME, (LOWEST_HERTZ, HIGHEST_HERTZ))


def octave_safe(
    signal: Signal, times: Numbers, window: float, span: tuple[float, float]
) -> Contour:
    """Take the first of the high maxima, so that two periods never pass for one.

    A maximum counts once the function has dipped below 0.4: ripple of high partials on the slope
    from lag 0 is no period. Heights are read between the samples, by a parabola.
    """
    width = round(window * signal.rate)
    low = max(2, int(signal.rate / span[1]))
    high = min(int(np.ceil(signal.rate / span[0])) + 1, width - 2)
    hertz, clarity = np.zeros(len(times)), np.zeros(len(times))
    for part in _chunks(len(times)):
        rows = difference.normalised(difference.frames(signal, times[part], width), high + 1)
        lags, heights = _first_high_maximum(rows, low, high)
        hertz[part] = np.where(lags > 0, signal.rate / np.maximum(lags, 1), 0.0)
        clarity[part] = heights
    return Contour(times=times, hertz=hertz, clarity=clarity, window=window)


def fine(signals: tuple[Signal, Signal], times: Numbers, window: float, about: float) -> Contour:
    """Follow one note of `about` this pitch (Hz) with the precision of several periods.

    `signals` are the fine and the coarse form. The highest maximum within f0 x 1.6 either way is
    refined on its multiples: at k periods the same error of reading is a k-th of it.
    """
    signal = signals[1] if about < SLOW_BELOW_HERTZ else signals[0]
    width = round(window * signal.rate)
    low = max(2, int(signal.rate / (about * NARROW)))
    high = min(int(np.ceil(signal.rate * NARROW / about)), int(width * 0.75))
    longest = max(high + 2, int(REFINE_WITHIN * width) + 5)
    hertz, clarity = np.zeros(len(times)), np.zeros(len(times))
    for part in _chunks(len(times)):
        rows = difference.normalised(
            difference.frames(signal, times[part], width), min(longest, width - 1)
        )
        lags, heights = _highest_maximum(rows, low, high)
        lags = _refined(rows, lags, heights, REFINE_WITHIN * width)
        hertz[part] = np.where(lags > 0, signal.rate / np.maximum(lags, 1), 0.0)
        clarity[part] = heights
    return Contour(times=times, hertz=hertz, clarity=clarity, window=window)


def fine_window(hertz: float) -> float:
    """Six periods, but 30 to 120 ms."""
    return float(np.clip(FINE_PERIODS / hertz, *FINE_FRAME))


def edge_window(hertz: float) -> float:
    """Three periods, but 25 to 100 ms: for what changes quickly at either end of a note."""
    return float(np.clip(EDGE_PERIODS / hertz, *EDGE_FRAME))


def cents(hertz: Numbers, reference: float) -> Numbers:
    """Tell how far frequencies lie above a reference: 1200 x log2 of the ratio; no pitch is NaN."""
    known = np.where(hertz > 0, hertz, np.nan)
    return np.asarray(1200 * np.log2(known / reference))


def _chunks(count: int) -> list[slice]:
    step = difference.CHUNK_FRAMES
    return [slice(begin, begin + step) for begin in range(0, count, step)]


def _tops(rows: Samples, low: int, high: int) -> tuple[NDArray[np.bool_], Samples, Samples]:
    """Find the local maxima from lag `low` to `high`: where, how far off the sample, how high."""
    before, here, behind = (rows[:, low + d : high + 1 + d] for d in (-1, 0, 1))
    is_top = (here > before) & (here >= behind)
    shift, height = difference.vertex(before, here, behind)
    return is_top, np.asarray(shift), np.minimum(height, 1)


def _first_high_maximum(rows: Samples, low: int, high: int) -> tuple[Numbers, Numbers]:
    is_top, shift, height = _tops(rows, low, high)
    dipped = np.minimum.accumulate(rows[:, : high + 1], axis=1)[:, low:] < DIP
    heights = np.where(is_top & dipped, height, -1)
    best = heights.max(axis=1)
    first = np.argmax(heights >= FIRST_SHARE * best[:, None], axis=1)
    return _at(first, best, low, shift, heights)


def _highest_maximum(rows: Samples, low: int, high: int) -> tuple[Numbers, Numbers]:
    is_top, shift, height = _tops(rows, low, high)
    heights = np.where(is_top, height, -1)
    return _at(np.argmax(heights, axis=1), heights.max(axis=1), low, shift, heights)


def _at(
    place: NDArray[np.intp], best: Samples, low: int, shift: Samples, heights: Samples
) -> tuple[Numbers, Numbers]:
    every = np.arange(len(place))
    lags = np.where(best > 0, low + place + shift[every, place], 0.0)
    return lags.astype(np.float64), np.maximum(heights[every, place], 0).astype(np.float64)


def _refined(rows: Samples, lags: Numbers, heights: Numbers, reach: float) -> Numbers:
    every = np.arange(len(rows))[:, None]
    near = np.arange(-2, 3)
    multiple = 2
    refined = lags.copy()
    while True:
        guess = refined * multiple
        usable = (refined > 0) & (guess < reach) & (guess < rows.shape[1] - 4)
        if not usable.any():
            return refined
        middle = np.where(usable, np.rint(guess), 3).astype(np.int64)
        around = rows[every, middle[:, None] + near]
        top = middle + np.argmax(around, axis=1) - 2
        before, here, behind = (rows[every[:, 0], top + d] for d in (-1, 0, 1))
        shift, height = difference.vertex(before, here, behind)
        place = top + shift
        good = usable & (np.abs(place - guess) <= REFINE_SAMPLES)
        good &= height > REFINE_HEIGHT * heights
        refined = np.where(good, place / multiple, refined)
        multiple *= 2
