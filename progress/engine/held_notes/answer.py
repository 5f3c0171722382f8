"""The measured clip as one JSON object, in the words and units of docs/held-notes.md."""

from typing import Any

from progress.engine.held_notes import counts, spectrum
from progress.engine.held_notes.analysis import Measured, Note
from progress.engine.held_notes.cautions import Caution

_SECONDS, _COUNTS, _MILLISECONDS, _CENTS, _DECIBELS, _RATE = 4, 3, 1, 2, 2, 2


def as_json(measured: Measured) -> dict[str, Any]:
    """Write the notes, the consistency of brightness and the warnings; a blank is None."""
    request, notes = measured.request, measured.notes
    places = [counts.to_midi(note.heard_hertz, request.a4) for note in notes]
    expected = counts.expected_of(places, request.expected)
    onsets = counts.onsets_on_grid([note.edges.start for note in notes], request)
    rows = []
    for index, note in enumerate(notes):
        behind = notes[index + 1].edges.start if index + 1 < len(notes) else None
        row = _times(note, behind, measured) | {"onset_grid_ms": _rounded(onsets[index], 1)}
        row |= _pitch(note, expected[index], places[index])
        row |= _level(note, measured) | _flags(note, row, measured)
        rows.append(_in_order(row))
    return {
        "notes": rows,
        "brightness_consistency": _rounded(_consistency(measured, places), _DECIBELS),
        "warnings": [caution.value for caution in measured.cautions],
    }


KEYS = (
    *("start_s", "end_s", "hold_counts", "rest_counts", "onset_grid_ms", "midi_heard"),
    *("expected_midi", "cents", "pitch_spread", "pitch_drift", "vibrato_rate", "vibrato_depth"),
    *("level_drift", "level_spread", "attack_ms", "release_ms", "start_dev", "end_dev"),
    *("false_start", "wrong_partial", "scoop", "sag", "short_hold", "short_rest"),
    *("breaks_s", "richness"),
)


def _in_order(row: dict[str, Any]) -> dict[str, Any]:
    return {key: row[key] for key in KEYS}


def _times(note: Note, behind: float | None, measured: Measured) -> dict[str, Any]:
    tempo, edges = measured.request.tempo, note.edges
    rest = None if behind is None else counts.counts(behind - edges.end, tempo)
    return {
        "start_s": round(edges.start, _SECONDS),
        "end_s": round(edges.end, _SECONDS),
        "hold_counts": _rounded(counts.counts(edges.end - edges.start, tempo), _COUNTS),
        "rest_counts": _rounded(rest, _COUNTS),
    }


def _pitch(note: Note, expected: int | None, place: float) -> dict[str, Any]:
    heard = round(place)
    pitch = note.pitch
    vibrato = None if pitch is None else pitch.vibrato
    aim = heard if expected is None else expected
    return {
        "midi_heard": heard,
        "expected_midi": expected,
        "cents": None if pitch is None else round(100 * (place - aim), _CENTS),
        "pitch_spread": None if pitch is None else round(pitch.spread, _CENTS),
        "pitch_drift": None if pitch is None else round(pitch.drift, _CENTS),
        "vibrato_rate": None if vibrato is None else round(vibrato.rate, _RATE),
        "vibrato_depth": None if vibrato is None else round(vibrato.depth, _CENTS),
        "start_dev": _rounded(note.transients.start, _CENTS),
        "end_dev": _rounded(note.transients.end, _CENTS),
    }


def _level(note: Note, measured: Measured) -> dict[str, Any]:
    """Leave blank what the browser's processing has changed, and a release that is the room's."""
    is_true = not measured.request.processed
    has_room = Caution.REVERBERANT in measured.cautions
    level = note.level if is_true else None
    release = note.edges.release if is_true and not has_room else None
    return {
        "level_drift": None if level is None else round(level.drift, _DECIBELS),
        "level_spread": None if level is None else round(level.spread, _DECIBELS),
        "attack_ms": _rounded(note.edges.attack if is_true else None, _MILLISECONDS),
        "release_ms": _rounded(release, _MILLISECONDS),
        "breaks_s": round(note.edges.breaks, 3),
        "richness": _rounded(note.richness, _DECIBELS),
    }


def _flags(note: Note, row: dict[str, Any], measured: Measured) -> dict[str, bool]:
    request = measured.request
    return {
        "false_start": note.edges.false_start,
        "wrong_partial": note.transients.wrong_partial,
        "scoop": note.transients.scoop,
        "sag": note.transients.sag,
        "short_hold": counts.is_short(row["hold_counts"], request.hold),
        "short_rest": counts.is_short(row["rest_counts"], request.rest),
    }


def _consistency(measured: Measured, places: list[float]) -> float | None:
    return spectrum.consistency(
        [
            (round(place), note.level.middle, note.richness)
            for note, place in zip(measured.notes, places, strict=True)
            if note.level is not None and note.richness is not None
        ]
    )


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
