"""What is drawn and heard of a measured recording: level and pitch along time, and the sound anew.

The sound is written by us from the decoded samples, so that nothing a stranger made is ever played
to anybody: one channel, at most 24 kHz, as FLAC (RFC 9639).
"""

import io
from typing import Any

import numpy as np
import soundfile

from progress.engine.held_notes import contour
from progress.engine.held_notes.analysis import Measured
from progress.engine.held_notes.level import Power
from progress.engine.held_notes.signals import Bands, Numbers

STEP = 0.05
CLEAR = 0.8
FARTHEST_CENTS = 400
QUIETEST = -90.0


def curves_of(clip: Bands, measured: Measured, answer: dict[str, Any]) -> dict[str, Any]:
    """Follow the level of the clip (dBFS) and the pitch of each note (cents from its aim).

    `step` is in seconds; a pitch that is not clear is None.
    """
    power = Power(clip.whole)
    times = np.arange(STEP / 2, power.seconds, STEP)
    level = np.maximum(power.steady(times), QUIETEST)
    return {
        "step": STEP,
        "seconds": round(power.seconds, 2),
        "level": [round(float(value), 1) for value in level],
        "pitch": [
            _pitch(clip, row, note.heard_hertz, measured.request.a4)
            for row, note in zip(answer["notes"], measured.notes, strict=True)
        ],
    }


def sound_of(clip: Bands) -> bytes:
    """Write the clip anew as FLAC, 16 bits."""
    file = io.BytesIO()
    samples = np.clip(clip.whole.samples, -1, 1)
    soundfile.write(file, samples, round(clip.whole.rate), format="FLAC", subtype="PCM_16")
    return file.getvalue()


def _pitch(clip: Bands, row: dict[str, Any], hertz: float, a4: float) -> dict[str, Any]:
    aim = row["midi_heard"] if row["expected_midi"] is None else row["expected_midi"]
    begin, end = row["start_s"], row["end_s"]
    times = np.arange(begin + STEP / 2, end, STEP)
    if not len(times):
        return {"start": begin, "cents": []}
    window = contour.fine_window(hertz)
    seen = contour.fine((clip.fine, clip.coarse), times, window, hertz)
    away = contour.cents(seen.hertz, a4 * 2 ** ((aim - 69) / 12))
    return {"start": begin, "cents": _told(away, seen.clarity)}


def _told(away: Numbers, clarity: Numbers) -> list[float | None]:
    """Leave out what is not clear, and what is another note altogether."""
    shown = (clarity >= CLEAR) & (np.abs(np.nan_to_num(away, nan=1e9)) <= FARTHEST_CENTS)
    return [
        round(float(value), 1) if clear else None for value, clear in zip(away, shown, strict=True)
    ]
