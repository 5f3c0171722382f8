"""Level along time (dBFS), and the places where a note rises out of the rest and falls back."""

import numpy as np
import scipy.fft

from progress.engine.held_notes.signals import Numbers, Signal, decibels

BLOCK = 0.001
EDGE_STEP = 0.002
EDGE_WINDOW = 0.012
LEVEL_WINDOW = 0.060
COARSE_WINDOW = 0.040


class Power:
    """The mean square of a clip in blocks of a millisecond; every envelope is made from it."""

    def __init__(self, signal: Signal) -> None:
        sums = np.concatenate(([0.0], np.cumsum(np.square(signal.samples, dtype=np.float64))))
        count = max(1, int(signal.seconds / BLOCK))
        edges = np.arange(count + 1) * (BLOCK * signal.rate)
        whole = np.minimum(edges.astype(np.int64), len(sums) - 1)
        rest = edges - whole
        upper = np.minimum(whole + 1, len(sums) - 1)
        at_edges = sums[whole] * (1 - rest) + sums[upper] * rest
        self.blocks = np.diff(at_edges) / (BLOCK * signal.rate)
        self.seconds = count * BLOCK

    def steady(self, times: Numbers) -> Numbers:
        """Give the level in plain windows of 40 ms about these times."""
        sums = np.concatenate(([0.0], np.cumsum(self.blocks)))
        low = np.clip(np.rint((times - COARSE_WINDOW / 2) / BLOCK), 0, len(self.blocks))
        high = np.clip(np.rint((times + COARSE_WINDOW / 2) / BLOCK), 0, len(self.blocks))
        low, high = low.astype(np.int64), high.astype(np.int64)
        return decibels((sums[high] - sums[low]) / np.maximum(high - low, 1))

    def envelope(self, begin: float, end: float, window: float) -> "Envelope":
        """Give the level through a Hann window of this many seconds, every 2 ms."""
        weights = np.hanning(max(3, round(window / BLOCK)) + 2)[1:-1]
        reach = len(weights)
        first = max(0, int(begin / BLOCK))
        last = min(len(self.blocks), int(end / BLOCK))
        lead, trail = min(first, reach), min(len(self.blocks) - last, reach)
        power = self.blocks[first - lead : last + trail]
        size = scipy.fft.next_fast_len(len(power) + reach, real=True)
        product = scipy.fft.rfft(power, size) * scipy.fft.rfft(weights / weights.sum(), size)
        smooth = scipy.fft.irfft(product, size)[(reach - 1) // 2 :][lead : lead + last - first]
        step = round(EDGE_STEP / BLOCK)
        # An even number of blocks has its middle between two of them.
        offset = BLOCK / 2 if reach % 2 else 0.0
        times = (first + np.arange(0, last - first, step)) * BLOCK + offset
        return Envelope(times, np.maximum(smooth[::step], 0.0))


class Envelope:
    """Powers at evenly spaced times (s), and their levels (dBFS)."""

    def __init__(self, times: Numbers, power: Numbers) -> None:
        self.times, self.power = times, power
        self.level = decibels(power)

    def median(self, begin: float, end: float) -> float:
        """Give the median level between two times; NaN where nothing lies there."""
        part = self.level[self.index(begin) : self.index(end)]
        return float(np.median(part)) if len(part) else float("nan")

    def index(self, time: float) -> int:
        """Find the first place at or behind a time."""
        return int(np.searchsorted(self.times, time))

    def last_rise(self, level: float, before: float, since: float) -> float | None:
        """Walk back from a time to where the level last rose through this one."""
        first, start = self.index(since), min(self.index(before), len(self.times) - 1)
        below = np.flatnonzero(self.level[first : start + 1] < level)
        return self._crossing(first + int(below[-1]), level) if len(below) else None

    def first_rise(self, level: float, since: float, before: float) -> float | None:
        """Walk on from a time to where the level first rises through this one."""
        first, stop = self.index(since), self.index(before)
        above = np.flatnonzero(self.level[first:stop] >= level)
        return self._crossing(first + int(above[0]) - 1, level) if len(above) else None

    def first_fall(self, level: float, since: float, before: float) -> float | None:
        """Walk on from a time to where the level first falls through this one."""
        first, stop = self.index(since), self.index(before)
        below = np.flatnonzero(self.level[first:stop] < level)
        return self._crossing(first + int(below[0]) - 1, level) if len(below) else None

    def last_fall(self, level: float, before: float, since: float) -> float | None:
        """Walk back from a time to where the level was last at or above this one."""
        first, stop = self.index(since), self.index(before)
        above = np.flatnonzero(self.level[first:stop] >= level)
        return self._crossing(first + int(above[-1]), level) if len(above) else None

    def _crossing(self, place: int, level: float) -> float:
        """Find the time between one place and the next at which the level is passed."""
        left = min(max(place, 0), len(self.times) - 1)
        right = min(left + 1, len(self.times) - 1)
        rise = self.level[right] - self.level[left]
        share = (level - self.level[left]) / rise if rise else 0.0
        between = float(np.clip(share, 0, 1)) * (self.times[right] - self.times[left])
        return float(self.times[left] + between)
