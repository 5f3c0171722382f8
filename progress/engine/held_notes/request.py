"""What is known beside the recording: the notes expected, the counts asked for, the tuning."""

from dataclasses import dataclass
from math import isfinite

A4_LIMITS = (380.0, 480.0)
MIDI_LIMITS = (16, 108)
TEMPO_LIMITS = (20, 240)
COUNT_LIMITS = (1, 64)
REST_LIMITS = (0, 64)
MOST_NOTES = 200


class RequestError(ValueError):
    """What was asked cannot be; the message says what was given, what may be, what to do."""


@dataclass(frozen=True, kw_only=True)
class Request:
    """How to read one recording.

    `expected`: sounding MIDI numbers in order. `tempo`: counts a minute; `hold`, `rest`: counts.
    `a4`: Hz. `processed`: the browser's own processing was on while recording.
    """

    expected: tuple[int, ...] = ()
    tempo: float | None = None
    hold: float | None = None
    rest: float | None = None
    a4: float = 440.0
    processed: bool = False

    def __post_init__(self) -> None:
        """Refuse what is out of bounds: RequestError."""
        _within("A4", self.a4, A4_LIMITS, "Hz")
        for midi in self.expected:
            _within("Expected note", midi, MIDI_LIMITS, "as a sounding MIDI number")
        if len(self.expected) > MOST_NOTES:
            raise RequestError(f"{len(self.expected)} expected notes: name at most {MOST_NOTES}.")
        for name, value, limits in (
            ("Tempo", self.tempo, TEMPO_LIMITS),
            ("Hold", self.hold, COUNT_LIMITS),
            ("Rest", self.rest, REST_LIMITS),
        ):
            if value is not None:
                _within(name, value, limits, "counts a minute" if name == "Tempo" else "counts")
        if self.tempo is None and (self.hold is not None or self.rest is not None):
            raise RequestError("Hold and rest are counts: name the tempo too, as --tempo 60.")


def _within(name: str, value: float, limits: tuple[float, float], unit: str) -> None:
    if not isfinite(value) or not limits[0] <= value <= limits[1]:
        raise RequestError(f"{name} {value:g}: choose {limits[0]:g} to {limits[1]:g} {unit}.")
