"""Invented playing with its labels: notes made of partials whose pitch and level are known exactly.

Written apart from the analysis and sharing nothing with it: every label is worked out from the
contours that the sound is made from, by the definitions in docs/held-notes.md. Three traits of the
tones follow J.-C. Risset, "Computer Study of Trumpet Tones", JASA 38, 912 (1965): low partials
rise sooner, the pitch wanders a little, quickly and at random, and louder is richer.
"""

from dataclasses import dataclass, field

import numpy as np

STEP = 0.001


@dataclass(frozen=True, kw_only=True)
class Played:
    """One note as it is played: seconds, cents, dB, and what goes wrong with it."""

    midi: int
    start: float
    hold: float
    cents: float = 0.0
    drift: float = 0.0
    wander: float = 0.6
    vibrato: tuple[float, float] | None = None
    scoop: float = 0.0
    scoop_seconds: float = 0.15
    sag: float = 0.0
    sag_seconds: float = 0.15
    attack: float = 0.05
    release: float = 0.08
    level: float = -18.0
    swell: float = 0.0
    beating: tuple[float, float] | None = None
    wrong: tuple[float, float] | None = None
    false_start: tuple[float, float] | None = None
    false_start_size: float = 0.8
    intake: tuple[float, float, float] | None = None
    breaks: tuple[tuple[float, float], ...] = ()
    slope: float = 6.0
    faint_first: float = 0.0
    even: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Label:
    """What is true of one note; the units are those of the command."""

    midi: int
    start_s: float
    end_s: float
    cents: float
    pitch_spread: float
    pitch_drift: float
    level_drift: float
    level_spread: float
    attack_ms: float
    flags: dict[str, bool]
    vibrato: tuple[float, float] | None
    breaks_s: float
    start_dev: float
    end_dev: float
    wrong_seconds: float
    hertz: float = field(default=0.0)


def mad(values):
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def fifths(values):
    part = max(1, len(values) // 5)
    return float(np.median(values[-part:]) - np.median(values[:part]))


def sound(note, rate, rng, a4=440.0):
    """Make one note: samples from 0.6 s before its start on, and its label."""
    lead = 0.6
    seconds = note.hold + 2 * lead
    grid = np.arange(0, seconds, STEP)
    time = grid - lead
    cents, partial = _pitch(note, time, rng)
    shape = _shape(note, time)
    hertz = a4 * 2 ** ((note.midi - 69) / 12)
    samples, power = _partials(note, grid, hertz * 2 ** (cents / 1200) * partial, shape, rate, rng)
    if note.intake:
        samples = samples + _breath_in(note, len(samples), lead, rate, rng)
    return samples, _label(note, time, cents, partial, power, hertz)


def _pitch(note, time, rng):
    """Cents from equal temperament, and the ratio of a wrong partial, along time."""
    inside = np.clip(time / note.hold, 0, 1)
    cents = note.cents + note.drift * (inside - 0.5)
    cents = cents + note.wander * _quick_wander(len(time), rng)
    if note.vibrato:
        rate, depth = note.vibrato
        cents = cents + depth * np.sin(2 * np.pi * rate * time) * np.clip(time / 0.5, 0, 1)
    scooped = np.clip(1 - np.clip(time, 0, None) / note.scoop_seconds, 0, 1)
    sagging = np.clip(1 - (note.hold - time) / note.sag_seconds, 0, 1)
    cents = cents - note.scoop * scooped**0.7 - note.sag * sagging
    partial = np.ones(len(time))
    if note.wrong:
        ratio, lasting = note.wrong
        partial = np.where(time < lasting, ratio, 1.0)
    return cents, partial


def _quick_wander(count, rng):
    """Noise of about 2 to 10 Hz with a standard deviation of 1."""
    noise = np.fft.rfft(rng.standard_normal(count + 400))
    hertz = np.fft.rfftfreq(count + 400, STEP)
    noise *= (hertz > 0.5) / (1 + (hertz / 7) ** 4)
    made = np.fft.irfft(noise, count + 400)[200 : 200 + count]
    return made / made.std()


def _shape(note, time):
    """Amplitude along time, 1 at the note's own level."""
    rise = np.clip(time / note.attack, 0, 1)
    fall = np.clip((note.hold - time) / note.release, 0, 1)
    shape = np.sin(rise * np.pi / 2) ** 2 * np.sin(fall * np.pi / 2) ** 1.5
    level = note.swell * (np.clip(time / note.hold, 0, 1) - 0.5)
    if note.beating:
        rate, depth = note.beating
        level = level + depth * np.sin(2 * np.pi * rate * time)
    shape = shape * 10 ** (level / 20)
    for at, lasting in note.breaks:
        shape = shape * (1 - np.clip(_hump(time, at, lasting, 0.02), 0, 1) * 0.985)
    if note.false_start:
        piece, gap = note.false_start
        first = -(piece + gap)
        shape = shape + note.false_start_size * _hump(time, first, piece, 0.015)
    return shape


def _breath_in(note, count, lead, rate, rng):
    """Noise of a breath: how long, how long before the note (s), how far below it (dB)."""
    lasting, gap, below = note.intake
    shape = _hump(np.arange(count) / rate - lead, -lasting - gap, lasting, 0.06)
    noise = np.convolve(rng.standard_normal(count), (1, -0.5), "same") / np.sqrt(1.25)
    return noise * shape * 10 ** ((note.level - below) / 20)


def _hump(time, at, lasting, edge):
    return np.clip((time - at) / edge, 0, 1) * np.clip((at + lasting - time) / edge, 0, 1)


def _partials(note, grid, hertz, shape, rate, rng):
    """Add the partials up; give the samples and the power along the grid."""
    count = int(len(grid) * STEP * rate)
    at = np.arange(count) / rate
    phase = 2 * np.pi * np.cumsum(np.interp(at, grid, hertz)) / rate
    middle = float(np.median(hertz))
    most = max(1, min(40, int(min(0.46 * rate, 9000) / (middle * 1.03))))
    samples, power = np.zeros(count), np.zeros(len(grid))
    gain = 10 ** (note.level / 20)
    for k in range(1, most + 1):
        size = 10 ** (-note.slope * np.log2(k) / 20)
        size *= 10 ** (-0.012 * max(0.0, k * middle - 1500) / 20)
        size *= 10 ** (-note.faint_first / 20) if k == 1 else 1
        size *= 10 ** (note.even / 20) if k % 2 == 0 else 1
        own = size * shape ** (1 + 0.06 * (k - 1))
        power += own**2 / 2
        samples += np.interp(at, grid, own) * np.sin(k * phase + rng.uniform(0, 2 * np.pi))
    scale = gain / np.sqrt(np.median(power[power > 0.1 * power.max()]))
    return samples * scale, power * scale**2


def _label(note, time, cents, partial, power, hertz):
    level = 10 * np.log10(np.maximum(power, 1e-12))
    steady = (time > 0.4) & (time < min(0.8, note.hold - 0.1))
    head = float(np.median(level[steady]))
    late = (time > note.hold - note.release - 0.35) & (time < note.hold - note.release)
    tail = float(np.median(level[late]))
    middle = np.flatnonzero(time >= min(0.4, note.hold / 2))[0]
    start = _last_below(level, head - 10, middle) + 1
    behind = np.flatnonzero(time >= note.hold - note.release - 0.1)[0]
    end = behind + int(np.flatnonzero(level[behind:] < tail - 10)[0])
    low = _last_below(level[: start + 1], head - 20, start)
    first = start + int(np.flatnonzero(level[start:] >= head - 3)[0])
    last = int(np.flatnonzero(level[: end + 1] >= tail - 3)[-1])
    part = slice(first + 150, last - 150)
    inside = level[part]
    place = np.arange(len(inside))
    straight = np.polyval(np.polyfit(place, inside, 1), place)
    settled = np.median(cents[(time > time[start] + 0.3) & (time < time[start] + 0.8)])
    before = np.median(cents[(time > time[end] - 0.8) & (time < time[end] - 0.3)])
    start_dev = float(np.median(cents[start : start + 60]) - settled)
    end_dev = float(np.median(cents[end - 60 : end]) - before)
    wrong = float(np.count_nonzero(partial[start : start + 300] != 1)) * STEP
    broken = level[first:last] < np.median(level[first:last]) - 12
    return Label(
        midi=note.midi,
        hertz=hertz,
        start_s=note.start + time[start],
        end_s=note.start + time[end],
        cents=float(np.median(cents[part])),
        pitch_spread=mad(cents[part]),
        pitch_drift=fifths(cents[part]),
        level_drift=fifths(inside),
        level_spread=mad(inside - straight),
        attack_ms=float(first - low),
        flags={
            "false_start": note.false_start is not None,
            "wrong_partial": wrong >= 0.03,
            "scoop": start_dev <= -12 and wrong < 0.03,
            "sag": end_dev <= -15,
        },
        vibrato=note.vibrato,
        start_dev=start_dev,
        end_dev=end_dev,
        wrong_seconds=wrong,
        breaks_s=float(np.count_nonzero(broken)) * STEP,
    )


def _last_below(level, at, before):
    below = np.flatnonzero(level[: before + 1] < at)
    return int(below[-1]) if len(below) else 0
