"""Reading a recording that anybody may have sent: all that can be checked before it is decoded is.

Formats are told by content, never by name: WAV (RIFF; IBM and Microsoft, "Multimedia Programming
Interface and Data Specifications 1.0", 1991), FLAC (RFC 9639), Ogg (RFC 3533) and MPEG audio
(ISO/IEC 11172-3), as libsndfile decodes them. Run this apart from the server: see `apart`.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from progress.engine.held_notes.limits import Limits, RecordingError
from progress.engine.held_notes.signals import Samples

ALLOWED = "WAV, FLAC, Ogg or MP3"
CONTAINERS = {"WAV": "WAV", "WAVEX": "WAV", "FLAC": "FLAC", "OGG": "Ogg", "MP3": "MP3"}
EIGHT_BITS = {"PCM_U8", "PCM_S8", "ULAW", "ALAW"}
LOUDEST = 100.0
BROKEN_OFF = 0.9
_HEAD = 16
_SYNC = 0xE0


@dataclass(frozen=True, kw_only=True)
class Recording:
    """Samples of (frames, channels), full scale 1, at a rate in Hz."""

    samples: Samples
    rate: int
    eight_bits: bool


def kind_of(head: bytes) -> str | None:
    """Name the format that the first bytes of a file tell, or None."""
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return "WAV"
    if head[:4] == b"fLaC":
        return "FLAC"
    if head[:4] == b"OggS":
        return "Ogg"
    if head[:3] == b"ID3" or (len(head) > 1 and head[0] == 0xFF and head[1] & _SYNC == _SYNC):
        return "MP3"
    return None


def check_file(path: Path, limits: Limits) -> str:
    """Check size and first bytes, and name the format: RecordingError. Needs no decoder."""
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise RecordingError(f"not a file: name one recording, {ALLOWED}.")
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise RecordingError(f"{why}: name one recording, {ALLOWED}.") from error
    if not size:
        raise RecordingError("the file is empty: record again.")
    if size > limits.most_bytes:
        raise RecordingError(
            f"{size / 1e6:.1f} MB: at most {limits.most_bytes / 1e6:g} MB. Record fewer notes."
        )
    kind = kind_of(head)
    if kind is None:
        raise RecordingError(f"no recording that can be read: send {ALLOWED}.")
    return kind


def read(path: Path, limits: Limits) -> Recording:
    """Check a file and decode it: RecordingError."""
    kind = check_file(path, limits)
    try:
        with soundfile.SoundFile(path) as file:
            _check_head(file, kind, limits)
            return _decoded(file, limits)
    except (soundfile.SoundFileError, RuntimeError, TypeError, ValueError, MemoryError) as error:
        if isinstance(error, RecordingError):
            raise
        raise RecordingError(f"damaged {kind} file: record it again, or send {ALLOWED}.") from error


def _check_head(file: soundfile.SoundFile, kind: str, limits: Limits) -> None:
    """Check what the file says of itself, before anything is decoded."""
    if CONTAINERS.get(file.format) != kind:
        raise RecordingError(f"{file.format} inside {kind}: send {ALLOWED}.")
    low, high = limits.rates
    if not low <= file.samplerate <= high:
        raise RecordingError(
            f"{file.samplerate} samples a second: {low} to {high} can be measured."
        )
    if not 1 <= file.channels <= limits.most_channels:
        raise RecordingError(
            f"{file.channels} channels: at most {limits.most_channels}. Record in mono."
        )
    seconds = file.frames / file.samplerate
    if file.frames < 1:
        raise RecordingError("no sound in it, or its length is not told: record again.")
    if seconds > limits.most_seconds:
        told = f"{seconds:.0f}" if seconds < 1e6 else "no known number of"
        raise RecordingError(
            f"{told} seconds: at most {limits.most_seconds:g}. Record fewer notes."
        )


def _decoded(file: soundfile.SoundFile, limits: Limits) -> Recording:
    """Decode at most as much as is allowed, in one go.

    Reading in pieces makes soundfile seek between them, which leaves silence in an MP3.
    """
    rate = file.samplerate
    most = min(file.frames, int(limits.most_seconds * rate))
    samples = file.read(most, dtype="float32", always_2d=True)
    if len(samples) < BROKEN_OFF * file.frames:
        raise RecordingError(
            f"breaks off after {len(samples) / rate:.1f} of {file.frames / rate:.1f} seconds: "
            "send it again."
        )
    return Recording(samples=_sound(samples), rate=rate, eight_bits=file.subtype in EIGHT_BITS)


def _sound(samples: Samples) -> Samples:
    """Refuse what is no number, and what lies far beyond full scale."""
    low, high = float(samples.min()), float(samples.max())
    if not (np.isfinite(low) and np.isfinite(high)):
        raise RecordingError("some samples are no numbers: record it again.")
    if max(-low, high) > LOUDEST:
        raise RecordingError("samples far beyond full scale, which is 1: scale the file down.")
    return samples
