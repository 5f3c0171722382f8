"""The normalised square difference of many frames at once.

P. McLeod, G. Wyvill, "A Smarter Way to Find Pitch", ICMC 2005, 138-141: for a lag of t samples and
a window of W, n(t) = 2 r(t) / m(t) with r(t) = sum of x[j] x[j+t] and m(t) = sum of x[j]^2 +
x[j+t]^2, both over j < W - t. It is 1 where the frame repeats after t exactly, and never more.
"""

import numpy as np
import scipy.fft

from progress.engine.held_notes.signals import Numbers, Samples, Signal

CHUNK_FRAMES = 256
_TINY = 1e-20


def frames(signal: Signal, centres: Numbers, width: int) -> Samples:
    """Cut frames of `width` samples about these times (s); beyond the ends is silence."""
    starts = np.rint(centres * signal.rate).astype(np.int64) - width // 2
    before = max(0, -int(starts.min()))
    behind = max(0, int(starts.max()) + width - len(signal.samples))
    padded = np.pad(signal.samples, (before, behind)) if before or behind else signal.samples
    cut: Samples = np.lib.stride_tricks.sliding_window_view(padded, width)[starts + before]
    return cut


def normalised(cut: Samples, longest: int) -> Samples:
    """Work out n(t) for the lags 0 to `longest`, one row a frame."""
    width = cut.shape[1]
    size = scipy.fft.next_fast_len(width + longest + 1, real=True)
    spectrum = scipy.fft.rfft(cut, size, axis=1)
    power = spectrum.real**2 + spectrum.imag**2
    products = scipy.fft.irfft(power, size, axis=1)[:, : longest + 1]
    squares = np.zeros((len(cut), width + 1))
    np.cumsum(np.square(cut, dtype=np.float64), axis=1, out=squares[:, 1:])
    lags = np.arange(longest + 1)
    sums = squares[:, width - lags] + squares[:, -1:] - squares[:, lags]
    return np.asarray(2 * products / (sums + _TINY), dtype=np.float32)


def vertex(before: Numbers, top: Numbers, behind: Numbers) -> tuple[Numbers, Numbers]:
    """Lay a parabola through three neighbours: how far its top is from the middle, and how high."""
    bend = before - 2 * top + behind
    lean = before - behind
    shift = np.where(bend < 0, 0.5 * lean / np.where(bend < 0, bend, -1), 0.0)
    shift = np.clip(shift, -0.5, 0.5)
    return shift, top - 0.25 * lean * shift
