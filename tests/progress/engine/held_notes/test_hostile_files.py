"""Files that lie, break off or were never a recording: refused in words, or measured in bounds."""

import dataclasses
import io
import signal
import struct
import subprocess
import sys

import numpy as np
import pytest
import soundfile

from progress.engine.held_notes import apart, reading
from progress.engine.held_notes.limits import OWN_FILE, UPLOAD, RecordingError
from progress.engine.held_notes.request import Request

SEED = 300
FORMATS = (
    ("WAV", "PCM_16"),
    ("WAV", "FLOAT"),
    ("FLAC", "PCM_16"),
    ("OGG", "VORBIS"),
    ("MP3", None),
)


def recording(kind="WAV", subtype="PCM_16", rate=24_000, seconds=1.5, channels=1):
    at = np.arange(int(seconds * rate)) / rate
    tone = sum(np.sin(2 * np.pi * 233.08 * k * at) / k for k in range(1, 6)) * 0.1
    file = io.BytesIO()
    soundfile.write(file, np.stack([tone] * channels, 1), rate, format=kind, subtype=subtype)
    return file.getvalue()


def written(tmp_path, content, name="clip.bin"):
    path = tmp_path / name
    path.write_bytes(content)
    return path


def mutated(content, rng):
    """Change, cut, repeat or overwrite some of it, the head most often."""
    made = bytearray(content)
    for _ in range(int(rng.integers(1, 12))):
        reach = 64 if rng.random() < 0.6 else len(made)
        made[int(rng.integers(0, min(reach, len(made))))] = int(rng.integers(0, 256))
    if rng.random() < 0.3:
        del made[int(rng.integers(1, len(made))) :]
    if rng.random() < 0.2:
        at = int(rng.integers(0, len(made)))
        made[at:at] = rng.bytes(int(rng.integers(1, 400)))
    return bytes(made)


def outcome(path):
    """The words of a refusal, or what was measured."""
    try:
        return "", apart.measure_file(path, Request(), UPLOAD)
    except RecordingError as error:
        return str(error), {}


@pytest.mark.battery
def test_mutated_files_are_refused_or_measured(tmp_path, is_battery, figures):
    rng = np.random.default_rng(SEED)
    sources = [recording(kind, subtype) for kind, subtype in FORMATS]
    count, refused, measured = (300 if is_battery else 6), 0, 0
    for number in range(count):
        path = written(tmp_path, mutated(sources[number % len(sources)], rng))
        words, answer = outcome(path)
        assert "\n" not in words
        assert bool(words) != (set(answer) == {"notes", "brightness_consistency", "warnings"})
        refused, measured = refused + bool(words), measured + bool(answer)

    figures.append(
        f"hostile files, seed {SEED}: {count} mutated, {refused} refused, {measured} measured, "
        "0 crashes"
    )
    assert refused + measured == count


def test_an_hour_of_silence_is_refused_before_it_is_decoded(tmp_path, monkeypatch):
    path = tmp_path / "hour.flac"
    with soundfile.SoundFile(path, "w", 8_000, 1, format="FLAC") as file:
        for _ in range(60):
            file.write(np.zeros(60 * 8_000, np.int16))
    monkeypatch.setattr(soundfile.SoundFile, "read", lambda *_: pytest.fail("it was decoded"))

    for limits in (UPLOAD, OWN_FILE):
        with pytest.raises(RecordingError, match=r"3600 seconds: at most"):
            reading.read(path, limits)
    assert path.stat().st_size < 200_000


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"RIFF\x00\x00\x00\x00WAVE", "damaged WAV"),
        (b"fLaC" + bytes(60), "damaged FLAC"),
        (b"<html>not a sound</html>", "no recording that can be read"),
        (bytes(5_000_001), "5.0 MB: at most 5 MB"),
        (bytes(5_049_999), "5.0 MB: at most 5 MB"),  # a megabyte is a million bytes
    ],
)
def test_what_is_no_recording_is_refused_in_words(tmp_path, content, words):
    with pytest.raises(RecordingError, match=words):
        reading.read(written(tmp_path, content), UPLOAD)


def test_a_wav_that_claims_another_rate_or_more_channels_or_none_is_refused(tmp_path):
    content = bytearray(recording())
    content[24:28] = struct.pack("<I", 4_000_000)
    with pytest.raises(RecordingError, match="4000000 samples a second: 8000 to 96000"):
        reading.read(written(tmp_path, bytes(content)), UPLOAD)

    with pytest.raises(RecordingError, match="3 channels: at most 2"):
        reading.read(written(tmp_path, recording(channels=3)), UPLOAD)

    content = bytearray(recording())
    content[22:24] = struct.pack("<H", 0)
    with pytest.raises(RecordingError, match="damaged WAV"):
        reading.read(written(tmp_path, bytes(content)), UPLOAD)


def test_samples_that_are_no_numbers_are_refused(tmp_path):
    path = tmp_path / "clip.wav"
    samples = np.full(24_000, np.nan, np.float32)
    soundfile.write(path, samples, 24_000, subtype="FLOAT")

    with pytest.raises(RecordingError, match="no numbers"):
        reading.read(path, UPLOAD)


@pytest.mark.parametrize(("kind", "subtype"), FORMATS)
def test_every_format_is_read_whole(tmp_path, kind, subtype):
    read = reading.read(written(tmp_path, recording(kind, subtype)), UPLOAD)

    middle = np.abs(read.samples[12_000:24_000, 0])
    assert read.rate == 24_000
    # No second is left silent, wherever the decoder was asked to go on.
    assert middle.reshape(-1, 240).max(axis=1).min() > 0.05


def test_the_process_is_held_to_its_time_and_memory(tmp_path):
    path = written(tmp_path, recording())
    hurried = dataclasses.replace(UPLOAD, patience_seconds=0.01)
    cramped = dataclasses.replace(UPLOAD, memory_bytes=50_000_000)

    with pytest.raises(RecordingError, match="not measured within"):
        apart.measure_file(path, Request(), hurried)
    with pytest.raises(RecordingError, match="record"):
        apart.measure_file(path, Request(), cramped)


def in_a_process(work, limits=UPLOAD):
    """Run this work bounded as the process that measures is; its exit status and last words."""
    code = "from progress.engine.held_notes import __main__ as main, limits\n"
    code += f"main.bound(limits.Limits(**{dataclasses.asdict(limits)!r}))\n{work}"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=apart.TOP,
        check=False,
        timeout=60,
    )
    return done.returncode, done.stderr


def test_the_process_that_measures_may_write_no_file_and_leave_no_core(tmp_path):
    work = f"with open({str(tmp_path / 'written')!r}, 'w') as file: file.write('x')"

    status, said = in_a_process(work)

    assert status != 0
    assert "File too large" in said or status == -signal.SIGXFSZ
    limit = "import resource; print(resource.getrlimit(resource.RLIMIT_CORE), file=sys.stderr)"
    # Under `make coverage` the process says at its end that it may not write that file either.
    assert in_a_process(f"import sys; {limit}")[1].splitlines()[0] == "(0, 0)"


def test_the_process_that_measures_is_ended_when_it_has_used_its_time():
    hurried = dataclasses.replace(UPLOAD, cpu_seconds=1)

    status, _said = in_a_process("while True: pass", hurried)

    assert status in {-signal.SIGXCPU, -signal.SIGKILL}


def test_the_process_that_measures_is_told_no_secret(tmp_path, monkeypatch):
    monkeypatch.setenv("FILAR_SECRET_KEY", "not for the decoder")
    monkeypatch.setenv("DATABASE_URL", "nor this")
    told = []
    run = subprocess.run

    def watched(*arguments, **more):
        told.append(more["env"])
        return run(*arguments, **more)

    monkeypatch.setattr(subprocess, "run", watched)
    apart.measure_file(written(tmp_path, recording()), Request(), UPLOAD)

    assert told
    assert "not for the decoder" not in str(told)
    assert "nor this" not in str(told)
