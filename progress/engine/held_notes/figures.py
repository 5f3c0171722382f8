"""The figures of the steady part of one note: pitch, vibrato, level. Cents, Hz, dB."""

from dataclasses import dataclass

import numpy as np

from progress.engine.held_notes import contour
from progress.engine.held_notes.edges import Edges
from progress.engine.held_notes.signals import SILENCE_POWER, Numbers, decibels

CLEAR = 0.80
WITHIN_CENTS = 150.0
# The factor that makes a median absolute deviation a standard deviation, for a normal spread.
MAD_TO_DEVIATION = 1.4826
SHORTEST_STEADY = 0.30
FIFTHS = 5
VIBRATO_HERTZ = (3.5, 8.5)
VIBRATO_FROM_HERTZ = 0.3
VIBRATO_SHARE = 0.5
VIBRATO_CENTS = 4.0
VIBRATO_SECONDS = 0.8
LINE_HERTZ = 0.9
_PADDED = 4096


@dataclass(frozen=True, kw_only=True)
class Vibrato:
    """A regular waver: how often (Hz), how far either way (cents)."""

    rate: float
    depth: float


@dataclass(frozen=True, kw_only=True)
class PitchFigures:
    """Pitch of the steady part: its middle (Hz), spread and drift (cents), vibrato or None."""

    hertz: float
    spread: float
    drift: float
    vibrato: Vibrato | None


@dataclass(frozen=True, kw_only=True)
class LevelFigures:
    """Level of the steady part: its middle (dBFS), drift and spread (dB)."""

    middle: float
    drift: float
    spread: float


def deviation(values: Numbers) -> float:
    """Give the robust spread: 1.4826 times the median absolute deviation from the median."""
    return MAD_TO_DEVIATION * float(np.median(np.abs(values - np.median(values))))


def by_fifths(values: Numbers) -> float:
    """Give the median of the last fifth minus the median of the first."""
    part = max(1, len(values) // FIFTHS)
    return float(np.median(values[-part:]) - np.median(values[:part]))


def pitch_figures(
    seen: contour.Contour, about: float, steady: tuple[float, float]
) -> PitchFigures | None:
    """Measure the pitch of a note of about this pitch (Hz); None where too little is clear."""
    inside = (seen.times >= steady[0]) & (seen.times <= steady[1])
    times, above = seen.times[inside], contour.cents(seen.hertz[inside], about)
    good = (seen.clarity[inside] >= CLEAR) & (np.abs(above) <= WITHIN_CENTS)
    if np.count_nonzero(good) * contour.FINE_STEP < SHORTEST_STEADY:
        return None
    whole = np.interp(times, times[good], above[good])
    middle = about * 2 ** (float(np.median(above[good])) / 1200)
    response = _Response(seen.window, middle)
    vibrato, line = _vibrato(whole, response)
    true = (whole + line)[good]
    return PitchFigures(
        hertz=about * 2 ** (float(np.median(true)) / 1200),
        spread=deviation(true),
        drift=by_fifths(true),
        vibrato=vibrato,
    )


def level_figures(edges: Edges, floor: float | None) -> LevelFigures | None:
    """Measure the level of the steady part, the power of the rests taken away."""
    slow = edges.slow
    part = slice(slow.index(edges.steady[0]), slow.index(edges.steady[1]))
    power, times = slow.power[part], slow.times[part]
    if len(power) < 2 or times[-1] - times[0] < SHORTEST_STEADY:
        return None
    noise = 0.0 if floor is None else 10 ** (floor / 10)
    level = decibels(np.maximum(power - noise, np.maximum(0.1 * power, SILENCE_POWER)))
    middle_time = times - times.mean()
    slope = float(middle_time @ level / (middle_time @ middle_time))
    return LevelFigures(
        middle=float(np.median(level)),
        drift=by_fifths(level),
        spread=deviation(level - slope * middle_time),
    )


class _Response:
    """How much of a waver the window leaves: it averages over a lag and over the rest of itself."""

    def __init__(self, window: float, hertz: float) -> None:
        lag = 1 / hertz
        while 2 * lag < contour.REFINE_WITHIN * window:
            lag *= 2
        self._parts = (lag, window - lag)

    def at(self, hertz: Numbers) -> Numbers:
        """Give the share that is left of a waver of this rate."""
        shares = np.sinc(hertz * self._parts[0]) * np.sinc(hertz * self._parts[1])
        return np.asarray(np.maximum(shares, 0.25))


def _vibrato(above: Numbers, response: _Response) -> tuple[Vibrato | None, Numbers]:
    """Look for one line that holds most of the waver; give it, and what the window took of it."""
    nothing = np.zeros(len(above))
    step = contour.FINE_STEP
    if len(above) * step < VIBRATO_SECONDS:
        return None, nothing
    place = np.arange(len(above))
    left = above - np.polyval(np.polyfit(place, above, 1), place)
    weights = np.hanning(len(left) + 2)[1:-1]
    size = max(_PADDED, 4 * len(left))
    power = np.abs(np.fft.rfft(left * weights, size)) ** 2
    hertz = np.fft.rfftfreq(size, step)
    band = np.flatnonzero((hertz >= VIBRATO_HERTZ[0]) & (hertz <= VIBRATO_HERTZ[1]))
    peak = int(band[np.argmax(power[band])])
    near = np.abs(hertz - hertz[peak]) <= max(LINE_HERTZ, 2 / (len(left) * step))
    near &= hertz >= VIBRATO_FROM_HERTZ
    all_of_it = float(power[hertz >= VIBRATO_FROM_HERTZ].sum())
    of_line = float(power[near].sum())
    is_edge = peak in (band[0], band[-1])
    mean_square = 2 * of_line / size / float(np.sum(weights**2))
    rate = float(hertz[peak])
    depth = float(np.sqrt(2 * mean_square) / response.at(np.array([rate]))[0])
    if is_edge or of_line <= VIBRATO_SHARE * all_of_it or depth <= VIBRATO_CENTS:
        return None, nothing
    return Vibrato(rate=rate, depth=depth), _taken(left, rate, response)


def _taken(left: Numbers, rate: float, response: _Response) -> Numbers:
    """Work out what the window has taken off the line at this rate (Hz)."""
    values = np.fft.rfft(left)
    hertz = np.fft.rfftfreq(len(left), contour.FINE_STEP)
    values[np.abs(hertz - rate) > LINE_HERTZ] = 0
    return np.asarray(np.fft.irfft(values * (1 / response.at(hertz) - 1), len(left)))
