"""Pitch and speed beside librosa, and the octave trap: tones from 29 to 1400 Hz at five rates.

librosa: B. McFee and others, librosa.pyin (M. Mauch, S. Dixon, ICASSP 2014) and librosa.yin
(A. de Cheveigné, H. Kawahara, JASA 111, 2002). A4 = 440 Hz: ISO 16; equal temperament.
"""

import time
from typing import Any

import librosa
import numpy as np
import pytest

from progress.engine.held_notes.analysis import measure
from progress.engine.held_notes.answer import as_json
from progress.engine.held_notes.request import Request
from tests.progress.engine.held_notes import clips

RATES = (16_000, 22_050, 24_000, 44_100, 48_000)
TONES = 552
SEED = 7


def tone(hertz, rate, partials, rng):
    """1.2 s of a tone with this many partials, silence about it."""
    at = np.arange(int(1.2 * rate)) / rate
    shape = np.minimum(1, np.minimum(at, 1.2 - at) / 0.04)
    made = sum(
        np.sin(2 * np.pi * hertz * k * at + rng.uniform(0, 6)) / k
        for k in range(1, partials + 1)
        if k * hertz < 0.45 * rate
    )
    silent = np.zeros(int(0.3 * rate))
    whole = np.concatenate((silent, 0.1 * made * shape, silent))
    return (whole + 1e-4 * rng.standard_normal(len(whole))).astype(np.float32)


@pytest.mark.battery
def test_no_tone_is_read_an_octave_off(is_battery, figures):
    rng = np.random.default_rng(SEED)
    every = np.geomspace(29, 1400, TONES)
    tones = every if is_battery else every[::24]
    wrong, off = [], []
    for rate in RATES:
        for place, hertz in enumerate(tones):
            partials = (1, 3, 12)[place % 3]
            notes = as_json(measure(tone(hertz, rate, partials, rng), rate, Request()))["notes"]
            heard = [note["midi_heard"] + (note["cents"] or 0) / 100 for note in notes]
            true = 69 + 12 * np.log2(hertz / 440)
            if len(heard) != 1 or abs(heard[0] - true) > 0.5:
                wrong.append((rate, hertz, partials, heard, true))
            else:
                off.append(100 * abs(heard[0] - true))

    figures.append(
        f"sweep, seed {SEED}: {len(tones)} tones 29 to 1400 Hz at {RATES}: {len(wrong)} octave "
        f"errors; cents off: median {np.median(off):.3f}, largest {max(off):.2f}"
    )
    assert wrong == []


@pytest.mark.parametrize("name", ["trumpet plain", "trombone plain"])
def test_the_pitch_agrees_with_librosa(name):
    case = next(case for case in clips.cases() if case.name == name)
    clip = clips.make(case, SEED)
    note = as_json(measure(clip.samples, clip.rate, Request()))["notes"][0]
    part = clip.samples[
        int((note["start_s"] + 0.3) * clip.rate) : int((note["start_s"] + 2.0) * clip.rate)
    ]
    hertz = clip.labels[0].hertz
    read: dict[str, Any] = {
        "fmin": hertz / 1.5,
        "fmax": hertz * 1.5,
        "sr": clip.rate,
        "frame_length": 4096,
    }

    yin = float(np.median(librosa.yin(part, **read)))
    pyin = float(np.nanmedian(librosa.pyin(part, **read)[0]))

    ours = hertz * 2 ** (note["cents"] / 1200)
    assert abs(1200 * np.log2(ours / yin)) < 2
    # pyin answers in steps of a tenth of a half step.
    assert abs(1200 * np.log2(ours / pyin)) < 7


@pytest.mark.battery(only=True)
def test_the_speed_beside_librosa_is_printed(figures):
    case = next(case for case in clips.cases() if case.name == "horn plain")
    clip = clips.make(case, SEED)
    slow = librosa.resample(clip.samples, orig_sr=clip.rate, target_sr=22_050)
    hop: dict[str, Any] = {"sr": 22_050, "hop_length": 220}
    seconds = len(clip.samples) / clip.rate

    ours = quickest(lambda: measure(clip.samples, clip.rate, Request()), 5)
    wide = quickest(lambda: librosa.pyin(slow, fmin=27, fmax=1600, frame_length=2048, **hop), 2)
    hertz = clip.labels[1].hertz
    near: dict[str, Any] = {"fmin": hertz / 1.6, "fmax": hertz * 1.6, "frame_length": 2048}
    narrow = quickest(lambda: librosa.pyin(slow, **near, **hop), 2)

    figures.append(
        f"speed on {seconds:.1f} s of sound: {seconds / ours:.0f} x real time; librosa.pyin 27 to "
        f"1600 Hz takes {wide / ours:.0f} x as long, over a narrow range {narrow / ours:.1f} x"
    )
    assert ours > 0


def quickest(work, times):
    taken = []
    for _ in range(times):
        begin = time.process_time()
        work()
        taken.append(time.process_time() - begin)
    return min(taken)
