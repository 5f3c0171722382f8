"""Makers for the tests of recordings: a student who may record, and sounds to send."""

import io
import shutil
import struct
from datetime import date, timedelta
from typing import Any
from uuid import uuid4

import numpy as np
import soundfile
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import Recording, RecordingLeave
from progress.services import recording_files
from studio.models import Student
from tests import makers

OFF = {"echoCancellation": "off", "noiseSuppression": "off", "autoGainControl": "off"}


def leave(student: Student, **values: Any) -> RecordingLeave:
    fields = {"is_on": True, "agreed_on": date(2026, 1, 10), "agreed_how": "signed form"}
    with scopes_disabled():
        made: RecordingLeave = RecordingLeave.objects.create(
            student=student, changed_at=timezone.now(), **(fields | values)
        )
    return made


def clip(*, rate: int = 24_000, notes: int = 2, lead: float = 3.0, hold: float = 3.0) -> Any:
    """Tones of a B flat with five partials, 3 s of each with 2 s between, as samples."""
    at = np.arange(int((lead + notes * (hold + 2.0)) * rate)) / rate
    tone = sum(np.sin(2 * np.pi * 233.08 * k * at) / k for k in range(1, 6)) * 0.1
    within = (at - lead) % (hold + 2.0)
    edge = np.clip(within / 0.05, 0, 1) * np.clip((hold - within) / 0.08, 0, 1)
    noise = np.random.default_rng(10).standard_normal(len(at)) * 1e-4
    return tone * np.where(at < lead, 0, edge) + noise


def wav(samples: Any = None, rate: int = 24_000) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, clip(rate=rate) if samples is None else samples, rate, format="WAV")
    return file.getvalue()


def lying_wav() -> bytes:
    """A WAV whose head says four million samples a second."""
    content = bytearray(wav())
    content[24:28] = struct.pack("<I", 4_000_000)
    return bytes(content)


def send(phone: Any, student: Student, content: bytes, **said: str) -> Any:
    """Send a sound as the page does."""
    query = {"key": uuid4().hex, "notes": "0", **OFF, **said}
    address = f"/practice/{student.public_id}/recording/send"
    return phone.post(address, content, content_type="audio/wav", query_params=query)


def a_recording(student: Student, *, sound: bytes = b"sound", **values: Any) -> Recording:
    """Make a row and its file: measured and to be heard, unless the values say otherwise."""
    fields: dict[str, Any] = {
        "key": uuid4(), "day": makers.today(student.studio), "received_at": timezone.now(),
        "kept_until": makers.today(student.studio) + timedelta(days=60), "state": "measured",
        "size": len(sound), "sha256": "0" * 64, "asked": {"tempo": 60, "hold": 8, "rest": 8},
        "processing": {}, "figures": figures(), "curves": curves(),
    }  # fmt: skip
    with scopes_disabled():
        row: Recording = Recording.objects.create(student=student, **(fields | values))
    if row.file:
        ending = recording_files.SENT if row.state == "waiting" else recording_files.WRITTEN
        recording_files.path_of(row.file, ending).write_bytes(sound)
    return row


def figures(**changes: Any) -> dict[str, Any]:
    """Write the figures of one note; the values are invented."""
    note = {
        "start_s": 5.0, "end_s": 12.9, "hold_counts": 7.9, "rest_counts": None,
        "onset_grid_ms": 0.0, "midi_heard": 70, "expected_midi": 70, "cents": 3.2,
        "pitch_spread": 2.1, "pitch_drift": -1.0, "vibrato_rate": None, "vibrato_depth": None,
        "level_drift": -2.4, "level_spread": 0.6, "attack_ms": 62.0, "release_ms": 90.0,
        "start_dev": -20.0, "end_dev": -1.0, "false_start": False, "wrong_partial": False,
        "scoop": True, "sag": False, "short_hold": False, "short_rest": False, "breaks_s": 0.0,
        "richness": -9.0,
    }  # fmt: skip
    return {"notes": [note | changes], "brightness_consistency": None, "warnings": ["quiet"]}


def curves() -> dict[str, Any]:
    pitch = [None if at == 70 else 3.0 + at % 3 for at in range(158)]
    level = [-70.0] * 100 + [-18.0] * 158 + [-70.0] * 62
    return {
        "step": 0.05,
        "seconds": 16.0,
        "level": level,
        "pitch": [{"start": 5.0, "cents": pitch}],
    }


def files() -> list[str]:
    return sorted(path.name for path in recording_files.folder().iterdir())


def no_files() -> None:
    shutil.rmtree(recording_files.folder())
