"""How large a recording may be, and what measuring it may take."""

from dataclasses import dataclass


class RecordingError(ValueError):
    """A file that is not measured; the message says what was given, what may be, what to do."""


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Bounds on a file, and on the process that reads it.

    `most_bytes` of the file; `most_seconds` of sound; `most_channels`; `rates` in Hz, both ends
    allowed; `memory_bytes` and `cpu_seconds` of the process, `patience_seconds` by the clock.
    """

    most_bytes: int
    most_seconds: float
    most_channels: int
    rates: tuple[int, int]
    memory_bytes: int
    cpu_seconds: int
    patience_seconds: float


# What a phone sends: ninety seconds of one channel at 24 kHz are 4.3 MB.
UPLOAD = Limits(
    most_bytes=5_000_000,
    most_seconds=95,
    most_channels=2,
    rates=(8_000, 96_000),
    memory_bytes=1_500_000_000,
    cpu_seconds=20,
    patience_seconds=40,
)
# What somebody names at the command line: their own file, on their own computer.
OWN_FILE = Limits(
    most_bytes=300_000_000,
    most_seconds=900,
    most_channels=8,
    rates=(8_000, 192_000),
    memory_bytes=6_000_000_000,
    cpu_seconds=120,
    patience_seconds=240,
)
