"""The labelled set against the targets, and every soundfont note against its MIDI file.

The targets are those that the program set itself for clips it has not seen: docs/held-notes.md.
"""

import numpy as np
import pytest

from progress.engine.held_notes.analysis import measure
from progress.engine.held_notes.answer import as_json
from progress.engine.held_notes.request import Request
from tests.progress.engine.held_notes import clips, soundfont, table

QUICK = (
    *("trumpet vibrato", "high room", "horn hall", "trombone scoop and sag", "tuba wrong start"),
    *("pedal phone", "at 16000", "breaks", "hum", "loud click", "clipped", "octave slip"),
    *("tuba talk", "trumpet breath in 0.35", "trumpet breath in 0.8", "tuba faint false start"),
    "trumpet short rests 0.6",
)
SEED = 20261125


def filled(cases, seeds):
    made = table.Table()
    for seed in seeds:
        for case in cases:
            clip = clips.make(case, seed)
            table.enter(made, clip, table.measured(clip))
    return made


def assert_on_target(made):
    assert (made.missed, made.extra, made.octaves) == ([], [], [])
    for name, share, most in (
        *(("pitch", 0.5, 0.3), ("pitch", 0.95, 1.5), ("hold", 0.5, 15), ("hold", 0.95, 60)),
        *(("spread", 0.95, 1.0), ("drift", 0.95, 1.5), ("level drift", 0.95, 0.8)),
        *(("attack", 0.95, 30), ("hold in rooms", 0.95, 250), ("vibrato depth", 0.95, 1.0)),
    ):
        assert made.quantile(name, share) <= most, (name, made.worst(name))
    assert made.flags_missed == []
    assert len(made.false_alarms) <= 0.01 * made.flags_judged, made.false_alarms


@pytest.mark.battery
def test_the_labelled_set_is_measured_within_the_targets(is_battery, figures):
    cases = [case for case in clips.cases() if is_battery or case.name in QUICK]
    seeds = (SEED, SEED + 1, SEED + 2) if is_battery else (SEED,)

    made = filled(cases, seeds)

    figures.extend(f"held notes, {len(cases)} clips, seeds {seeds}: {row}" for row in made.lines())
    assert len(cases) >= (60 if is_battery else len(QUICK))
    assert_on_target(made)


def test_a_wrong_label_would_be_found():
    case = next(case for case in clips.cases() if case.name == "horn plain")
    clip = clips.make(case, SEED)
    answer = table.measured(clip)
    answer["notes"][0]["cents"] += 40
    answer["notes"][1]["scoop"] = True
    del answer["notes"][2]

    made = table.Table()
    table.enter(made, clip, answer)

    assert made.missed == ["horn plain 2"]
    assert made.quantile("pitch", 1) > 39
    assert len(made.false_alarms) == 1


@pytest.mark.battery(only=True)
def test_soundfont_notes_come_out_as_their_midi_file_says(tmp_path, figures):
    fonts = soundfont.found_fonts()
    if not fonts:
        figures.append(
            "NOT RUN: no fluidsynth with a soundfont. apt-get install fluidsynth fluid-soundfont-gm"
        )
        pytest.skip("no fluidsynth with a soundfont on this computer")
    late, held, off, count = [], [], [], 0
    for font in fonts:
        for played in soundfont.clips():
            samples, rate = soundfont.render(played, font, tmp_path)
            notes = as_json(measure(samples, rate, Request()))["notes"]
            assert [note["midi_heard"] for note in notes] == list(played.notes), played
            count += 1
            for note, start in zip(notes, soundfont.starts(played), strict=True):
                late.append(1000 * abs(note["start_s"] - start))
                held.append(1000 * abs(note["end_s"] - note["start_s"] - played.hold))
                off.append(abs(note["cents"] - by_partials(samples, rate, note)))
    figures.append(
        f"soundfonts {[font.name for font in fonts]}: {count} clips, {len(off)} notes, 0 missed, "
        f"0 extra, 0 octave errors; cents from the strongest partials' own phase: median "
        f"{np.median(off):.2f}, 95th {np.quantile(off, 0.95):.2f}; hold against the MIDI file: "
        f"median {np.median(held):.0f} ms, 95th {np.quantile(held, 0.95):.0f} ms"
    )
    assert np.median(off) <= 0.3
    assert np.quantile(off, 0.95) <= 1.5
    assert np.quantile(late, 0.95) <= 60


def by_partials(samples, rate, note):
    """Cents of a note by the phase of each partial, the strongest counting most."""
    hertz = 440 * 2 ** ((note["midi_heard"] - 69) / 12)
    part = samples.mean(axis=1)[
        int((note["start_s"] + 0.35) * rate) : int((note["end_s"] - 0.35) * rate)
    ]
    time = np.arange(len(part)) / rate
    smooth = np.hanning(int(4 * rate / hertz))
    slopes, weights = [], []
    for k in range(1, 7):
        turned = np.convolve(part * np.exp(-2j * np.pi * k * hertz * time), smooth, "valid")
        slope = np.diff(np.unwrap(np.angle(turned))) * rate / (2 * np.pi)
        slopes.append(np.median(slope) / k)
        # The precision of a partial's say about the period grows with its number.
        weights.append(k**2 * np.mean(np.abs(turned) ** 2))
    return 1200 * np.log2(1 + np.average(slopes, weights=weights) / hertz)
