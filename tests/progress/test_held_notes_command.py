"""The command ``held_notes``: one JSON object, or one line and exit status 2."""

import json
import re

import numpy as np
import pytest
import soundfile
from django.core.management import CommandError, call_command

from progress.engine.held_notes import cautions
from tests import tree

# The keys and their order are the command's promise.
KEYS = [
    *("start_s", "end_s", "hold_counts", "rest_counts", "onset_grid_ms", "midi_heard"),
    *("expected_midi", "cents", "pitch_spread", "pitch_drift", "vibrato_rate", "vibrato_depth"),
    *("level_drift", "level_spread", "attack_ms", "release_ms", "start_dev", "end_dev"),
    *("false_start", "wrong_partial", "scoop", "sag", "short_hold", "short_rest"),
    *("breaks_s", "richness"),
]
RATE = 24_000


@pytest.fixture
def clip(tmp_path):
    """Two notes in a file: A4 and G#4, three seconds each with two between."""
    at = np.arange(3 * RATE) / RATE
    shape = np.minimum(1, np.minimum(at, 3 - at) / 0.05) * 0.1
    rest = np.zeros(2 * RATE)
    notes = [
        sum(np.sin(2 * np.pi * hertz * k * at) / k for k in range(1, 8)) * shape
        for hertz in (440.0, 440.0 * 2 ** (-1 / 12))
    ]
    path = tmp_path / "clip.wav"
    soundfile.write(path, np.concatenate([rest, notes[0], rest, notes[1], rest]), RATE)
    return path


def run(capsys, *arguments):
    call_command("held_notes", *map(str, arguments))
    return json.loads(capsys.readouterr().out)


def test_a_clip_becomes_one_object_with_every_key(clip, capsys):
    counts = ("--tempo", 60, "--hold", 3, "--rest", 2)
    answer = run(capsys, clip, "--expect", "69,68", *counts)

    assert list(answer) == ["notes", "brightness_consistency", "warnings"]
    assert [list(note) for note in answer["notes"]] == [KEYS, KEYS]
    first, second = answer["notes"]
    assert (first["midi_heard"], second["expected_midi"]) == (69, 68)
    assert first["cents"] == pytest.approx(0, abs=0.3)
    assert first["hold_counts"] == pytest.approx(3, abs=0.06)
    assert first["rest_counts"] == pytest.approx(2, abs=0.06)
    assert second["rest_counts"] is None
    assert answer["warnings"] == []


def test_cents_are_from_the_expected_note_and_the_tuning(clip, capsys):
    notes = run(capsys, clip, "--expect", "70,68", "--a4", "442")["notes"]

    # 440 Hz against A4 = 442 Hz is 1200 log2(440 / 442) = -7.85 cents.
    assert notes[0]["cents"] == pytest.approx(-107.85, abs=0.3)
    assert notes[1]["cents"] == pytest.approx(-7.85, abs=0.3)


def test_processed_leaves_level_attack_and_release_blank(clip, capsys):
    answer = run(capsys, clip, "--processed")

    assert answer["warnings"] == ["processed"]
    for name in ("level_drift", "level_spread", "attack_ms", "release_ms"):
        assert {note[name] for note in answer["notes"]} == {None}
    assert answer["notes"][0]["cents"] is not None


def test_a_short_hold_is_flagged_and_without_counts_nothing_is(clip, capsys):
    asked = run(capsys, clip, "--tempo", 60, "--hold", 4, "--rest", 3)["notes"]
    plain = run(capsys, clip)["notes"]

    assert [note["short_hold"] for note in asked] == [True, True]
    assert [note["short_rest"] for note in asked] == [True, False]
    assert {note["short_hold"] for note in plain} == {False}
    assert {note["hold_counts"] for note in plain} == {None}


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--expect", "65,x"], "--expect 'x': write sounding MIDI numbers"),
        (["--expect", "250"], "Expected note 250: choose 16 to 108"),
        (["--tempo", "0"], "Tempo 0: choose 20 to 240"),
        (["--tempo", "quick"], "--tempo 'quick': write a number"),
        (["--tempo", "60", "--hold", "99"], "Hold 99: choose 1 to 64 counts"),
        (["--hold", "8"], "name the tempo too"),
        (["--a4", "4400"], "A4 4400: choose 380 to 480 Hz"),
    ],
)
def test_a_bad_option_is_refused_in_one_line(clip, options, words):
    with pytest.raises(CommandError, match=re.escape(words)) as refused:
        call_command("held_notes", str(clip), *options)

    assert refused.value.returncode == 2
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("content", [b"", b"no sound", b"RIFF\x00\x00\x00\x00WAVEfmt "])
def test_a_bad_file_is_refused_in_one_line(tmp_path, content):
    path = tmp_path / "clip.wav"
    path.write_bytes(content)

    with pytest.raises(CommandError) as refused:
        call_command("held_notes", str(path))

    assert refused.value.returncode == 2
    assert "\n" not in str(refused.value)


def test_every_key_and_every_code_is_explained():
    guide = (tree.TOP / "docs/held-notes.md").read_text()
    names = [*KEYS, "brightness_consistency", *(code.value for code in cautions.Caution)]

    assert [name for name in names if f"`{name}`" not in guide] == []
