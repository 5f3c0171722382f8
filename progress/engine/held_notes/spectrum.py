"""How rich in high partials a note is: decibels of the upper partials over the lower ones.

Only to be compared within one pitch, one dynamic and one recording: richness grows with level
(J.-C. Risset, "Computer Study of Trumpet Tones", JASA 38, 912, 1965; N. Fletcher, A. Tarnopolsky,
"Blowing pressure, power, and spectrum in trumpet playing", JASA 105, 874-881, 1999), and what a
phone's microphone does to high partials is not known.
"""

import numpy as np
import scipy.fft

from progress.engine.held_notes import difference
from progress.engine.held_notes.figures import deviation
from progress.engine.held_notes.signals import Numbers, Signal

LOWEST_HERTZ = 300.0
PARTING_HERTZ = 1000.0
HIGHEST_HERTZ = 5000.0
FRAME_SECONDS = 0.12
FRAME_PERIODS = 8
MOST_FRAMES = 40
NEAR = 0.25
WIDEST_HERTZ = 20.0
SAME_DYNAMIC = 6.0


def richness(whole: Signal, steady: tuple[float, float], hertz: float) -> float | None:
    """Compare the power of the partials up to 5 kHz with that of the lower ones, in dB.

    They part at 1 kHz, or at 1.5 times the note where that is higher. None where the recording does
    not reach to 5 kHz, or the steady part is shorter than one frame.
    """
    seconds = max(FRAME_SECONDS, FRAME_PERIODS / hertz)
    if whole.rate / 2 < HIGHEST_HERTZ or steady[1] - steady[0] < seconds:
        return None
    count = min(MOST_FRAMES, max(1, int(2 * (steady[1] - steady[0]) / seconds) - 1))
    centres = np.linspace(steady[0] + seconds / 2, steady[1] - seconds / 2, count)
    width = round(seconds * whole.rate)
    size = scipy.fft.next_fast_len(2 * width, real=True)
    frames = difference.frames(whole, centres, width) * np.hanning(width).astype(np.float32)
    power = np.abs(scipy.fft.rfft(frames, size, axis=1)) ** 2
    middle = np.median(power, axis=0).astype(np.float64)
    return _ratio(middle, whole.rate / size, hertz)


def _ratio(power: Numbers, bin_hertz: float, hertz: float) -> float | None:
    parting = max(PARTING_HERTZ, 1.5 * hertz)
    partials = hertz * np.arange(1, int(HIGHEST_HERTZ / hertz) + 1)
    half = min(NEAR * hertz, WIDEST_HERTZ)
    sums = np.concatenate(([0.0], np.cumsum(power)))
    low = np.rint((partials - half) / bin_hertz).astype(int)
    high = np.minimum(np.rint((partials + half) / bin_hertz).astype(int) + 1, len(power))
    each = sums[high] - sums[low]
    below = float(each[(partials >= LOWEST_HERTZ) & (partials < parting)].sum())
    above = float(each[partials >= parting].sum())
    return 10 * float(np.log10(above / below)) if above > 0 and below > 0 else None


def consistency(notes: list[tuple[int, float, float]]) -> float | None:
    """Give the robust spread of richness between notes of one pitch and one dynamic, in dB.

    `notes` are (pitch as MIDI number, level in dB, richness in dB). Notes more than 6 dB from the
    middle level of their pitch are left out; None where no pitch was played twice.
    """
    apart: list[float] = []
    for pitch in {midi for midi, _, _ in notes}:
        same = [(level, rich) for midi, level, rich in notes if midi == pitch]
        middle = float(np.median([level for level, _ in same]))
        rich = [value for level, value in same if abs(level - middle) <= SAME_DYNAMIC]
        if len(rich) >= 2:
            apart.extend(np.asarray(rich) - np.median(rich))
    return deviation(np.asarray(apart)) if apart else None
