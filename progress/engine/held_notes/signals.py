"""A recording as one channel, at the rates and in the bands that the measuring needs.

Levels are in decibels under full scale (dBFS), of the mean square: a sine that just fills the scale
has -3.01. Band limits are made in the spectrum of the whole clip, so they shift nothing in time.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Samples = NDArray[np.float32]
Numbers = NDArray[np.floating[Any]]

PITCH_RATE = 24_000
COARSE_RATE = 12_000
COARSE_LOW_PASS_HERTZ = 2_000
FINE_PASS_HERTZ = 3_000
FINE_STOP_HERTZ = 5_500
RUMBLE_HERTZ = (14.0, 24.0)
SILENCE_POWER = 1e-12
_FINEST_FRACTION = 200


@dataclass(frozen=True, kw_only=True)
class Signal:
    """Samples of one channel at one rate (Hz); it begins at the clip's first instant."""

    samples: Samples
    rate: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate


@dataclass(frozen=True, kw_only=True)
class Bands:
    """One clip in the forms that the measuring reads.

    `whole` is everything from 20 Hz up, for levels and spectra; `fine` has no partials above about
    5 kHz, so that the peak of a difference function is round enough for a parabola; `coarse` is at
    12 kHz with a gentle low-pass, for finding the notes.
    """

    whole: Signal
    fine: Signal
    coarse: Signal


def mix(samples: Samples) -> Samples:
    """Average the channels of (frames, channels): their sum through their number."""
    if samples.ndim == 1:
        return np.ascontiguousarray(samples, dtype=np.float32)
    return np.asarray(samples.mean(axis=1), dtype=np.float32)


def bands(samples: Samples, rate: int) -> Bands:
    """Bring one channel into the three forms; no rate is ever raised."""
    clip = _Spectrum(samples, rate)
    hertz = clip.hertz
    rumble = _ramp(hertz, *RUMBLE_HERTZ)
    fine = rumble * (1 - _ramp(hertz, FINE_PASS_HERTZ, FINE_STOP_HERTZ))
    # The size of a second-order Butterworth filter, without its delay.
    coarse = rumble / np.sqrt(1 + (hertz / COARSE_LOW_PASS_HERTZ) ** 4)
    return Bands(
        whole=clip.at(PITCH_RATE, rumble),
        fine=clip.at(PITCH_RATE, fine),
        coarse=clip.at(COARSE_RATE, coarse.astype(np.float32)),
    )


def decibels(power: Numbers) -> Numbers:
    """Turn mean squares into dBFS; silence is -120."""
    return np.asarray(10 * np.log10(np.maximum(power, SILENCE_POWER)))


class _Spectrum:
    """The spectrum of a whole clip, from which every slower form is read back."""

    def __init__(self, samples: Samples, rate: int) -> None:
        self._rate = rate
        self._length = len(samples)
        # Half a second of silence behind, so that the end does not ring into the beginning.
        self._wanted = self._length + rate // 2
        self._ratios = {
            target: min(Fraction(target, rate).limit_denominator(_FINEST_FRACTION), Fraction(1))
            for target in (PITCH_RATE, COARSE_RATE)
        }
        step = int(np.lcm.reduce([ratio.denominator for ratio in self._ratios.values()]))
        self._size = step * scipy.fft.next_fast_len(-(-self._wanted // step), real=True)
        self._values = scipy.fft.rfft(samples, self._size)
        self.hertz = np.arange(len(self._values), dtype=np.float32) * (rate / self._size)

    def at(self, target: int, filtered: Samples) -> Signal:
        """Read the clip back at about this rate (Hz), its partials weighted."""
        ratio = self._ratios[target]
        size = int(self._size * ratio)
        kept = self._values[: size // 2 + 1] * filtered[: size // 2 + 1]
        if ratio < 1:
            rate = self._rate * float(ratio)
            top = self.hertz[: len(kept)]
            kept = kept * (1 - _ramp(top, 0.45 * rate, 0.5 * rate))
        samples = scipy.fft.irfft(kept, size)[: int(self._length * ratio)]
        return Signal(
            samples=np.asarray(samples * float(ratio), dtype=np.float32),
            rate=self._rate * float(ratio),
        )


def _ramp(hertz: Samples, low: float, high: float) -> Samples:
    """Rise from 0 at `low` to 1 at `high` along half a cosine."""
    place = np.clip((hertz - low) / (high - low), 0, 1)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * place), dtype=np.float32)
