"""A measured recording as curves and words: evidence beside what is heard, never a grade.

Whole cents are shown, and anything under 5 is "centred": one player on one trumpet varies by far
more (docs/held-notes.md). Of a figure that would not be true nothing is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from progress.models import Recording
from routines.engine import instruments
from routines.engine.notes import Naming, with_octave

CENTRED_BELOW = 5
LEFT, RIGHT, WIDTH = 34, 354, 360
PITCH_TOP, PITCH_HEIGHT, MOST_CENTS = 8, 100, 50
LEVEL_TOP, LEVEL_HEIGHT, LOUDEST, QUIETEST = 8, 72, 0, -60
TIME_STEPS = (5, 10, 20, 30)
MOST_TICKS = 6
NONE = "–"
CAUTIONS = {
    "processed": gettext_lazy(
        "The phone changed the sound by itself, so nothing is said of level, attack and release."
    ),
    "clipped": gettext_lazy("Too loud for the microphone in places: the peaks are cut off."),
    "quiet": gettext_lazy("Very quiet: the phone was far away."),
    "noisy": gettext_lazy("A loud room: the notes stand out little."),
    "reverberant": gettext_lazy(
        "A room with much echo: ends come late, and the level is doubtful."
    ),
    "gap": gettext_lazy("The sound drops out inside a note: the recording has a gap."),
    "no_silence": gettext_lazy("No rest was heard, so how quiet the room is, is a guess."),
    "too_short": gettext_lazy("A note, or all of it, is too short or unclear for some figures."),
    "narrow_band": gettext_lazy("The phone left out high sound."),
    "no_notes": gettext_lazy("No held note was found."),
    "not_as_expected": gettext_lazy("Another number of notes than the plan had."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One drawing: its size, lines (SVG points), and the words at its edges with their places."""

    height: int
    lines: tuple[str, ...]
    levels: tuple[tuple[int, str], ...]
    ticks: tuple[tuple[int, int], ...]
    top: int
    bottom: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteWords:
    """One held note in words."""

    name: str
    held: str
    pitch: str
    steady: str
    level: str
    start: str
    end: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingChart:
    """What a page shows of a recording."""

    pitch: Panel
    level: Panel
    notes: tuple[NoteWords, ...]
    cautions: tuple[str, ...]
    width: int = WIDTH
    left: int = LEFT
    right: int = RIGHT


def recording_chart(row: Recording, *, naming: Naming) -> RecordingChart:
    """Draw a measured recording and say its figures; notes are named as the student reads them."""
    figures, curves = row.figures or {}, row.curves or {}
    instrument = row.block.instrument if row.block else row.student.instrument
    down = instruments.by_id(instrument).transposition
    seconds = float(curves.get("seconds") or 1)
    step = float(curves.get("step") or 1)
    return RecordingChart(
        pitch=_panel(
            [
                line
                for note in curves.get("pitch", ())
                for line in _lines(note["cents"], note["start"], step, seconds, _pitch_y)
            ],
            levels=[(_pitch_y(cents), f"{cents:+d}" if cents else "0") for cents in (50, 0, -50)],
            seconds=seconds,
            size=(PITCH_TOP, PITCH_HEIGHT),
        ),
        level=_panel(
            _lines(curves.get("level", ()), 0.0, step, seconds, _level_y),
            levels=[(_level_y(level), str(level)) for level in (0, -20, -40, -60)],
            seconds=seconds,
            size=(LEVEL_TOP, LEVEL_HEIGHT),
        ),
        notes=tuple(_words(note, row.asked, down, naming) for note in figures.get("notes", ())),
        cautions=tuple(str(CAUTIONS.get(code, code)) for code in figures.get("warnings", ())),
    )


def pitch_words(cents: float | None) -> str:
    """Say how far a note is from its place, in whole cents."""
    if cents is None:
        return NONE
    if abs(cents) < CENTRED_BELOW:
        return _("within 5 cents: centred")
    whole = abs(round(cents))
    if cents > 0:
        return ngettext("%(n)d cent high", "%(n)d cents high", whole) % {"n": whole}
    return ngettext("%(n)d cent low", "%(n)d cents low", whole) % {"n": whole}


def _words(note: dict[str, Any], asked: dict[str, Any], down: int, naming: Naming) -> NoteWords:
    return NoteWords(
        name=_name(note, down, naming),
        held=_held(note, asked),
        pitch=pitch_words(note["cents"]),
        steady=_steady(note),
        level=_level(note),
        start=_start(note),
        end=_end(note),
    )


def _name(note: dict[str, Any], down: int, naming: Naming) -> str:
    heard, expected = note["midi_heard"], note["expected_midi"]
    if expected is None or expected == heard:
        return with_octave(heard - down, naming)
    said = {
        "asked": with_octave(expected - down, naming),
        "heard": with_octave(heard - down, naming),
    }
    return _("%(asked)s asked, %(heard)s heard") % said


def _held(note: dict[str, Any], asked: dict[str, Any]) -> str:
    counts, wanted = note["hold_counts"], asked.get("hold")
    if counts is None or wanted is None:
        said = _("%(seconds).1f s") % {"seconds": note["end_s"] - note["start_s"]}
    else:
        said = _("%(counts).1f of %(wanted)d counts") % {"counts": counts, "wanted": wanted}
    extra = [_("short")] if note["short_hold"] else []
    if note["breaks_s"]:
        extra.append(_("breaks off for %(seconds).1f s") % {"seconds": note["breaks_s"]})
    return "; ".join([said, *extra])


def _steady(note: dict[str, Any]) -> str:
    if note["pitch_spread"] is None:
        return NONE
    if note["vibrato_rate"] is not None:
        said = _("vibrato, %(rate).1f a second, %(depth)d cents either way") % {
            "rate": note["vibrato_rate"],
            "depth": round(note["vibrato_depth"]),
        }
    elif note["pitch_spread"] < CENTRED_BELOW:
        said = _("wavers by less than 5 cents")
    else:
        said = _("wavers by %(n)d cents") % {"n": round(note["pitch_spread"])}
    drift = note["pitch_drift"] or 0
    if abs(drift) < CENTRED_BELOW:
        return said
    way = _("rises by %(n)d cents") if drift > 0 else _("sinks by %(n)d cents")
    return f"{said}; {way % {'n': abs(round(drift))}}"


def _level(note: dict[str, Any]) -> str:
    if note["level_drift"] is None:
        return NONE
    drift, spread = note["level_drift"], {"spread": note["level_spread"]}
    if abs(drift) < 1:
        return _("even within 1 dB; wavers by %(spread).1f dB") % spread
    words = (
        _("grows by %(n).1f dB; wavers by %(spread).1f dB")
        if drift > 0
        else _("fades by %(n).1f dB; wavers by %(spread).1f dB")
    )
    return words % {"n": abs(drift), **spread}


def _start(note: dict[str, Any]) -> str:
    said = []
    if note["false_start"]:
        said.append(_("a false start"))
    if note["wrong_partial"]:
        said.append(_("another note sounds first"))
    if note["scoop"]:
        said.append(_("from %(n)d cents below") % {"n": abs(round(note["start_dev"] or 0))})
    if note["attack_ms"] is not None:
        said.append(_("speaks in %(n)d ms") % {"n": round(note["attack_ms"])})
    return "; ".join(said) or NONE


def _end(note: dict[str, Any]) -> str:
    said = []
    if note["sag"]:
        said.append(_("sags by %(n)d cents") % {"n": abs(round(note["end_dev"] or 0))})
    if note["release_ms"] is not None:
        said.append(_("stops in %(n)d ms") % {"n": round(note["release_ms"])})
    return "; ".join(said) or NONE


def _panel(
    lines: Sequence[str],
    *,
    levels: Sequence[tuple[int, str]],
    seconds: float,
    size: tuple[int, int],
) -> Panel:
    top, height = size
    step = next((one for one in TIME_STEPS if seconds / one <= MOST_TICKS), TIME_STEPS[-1])
    ticks = [(_x(at, seconds), at) for at in range(0, int(seconds) + 1, step)]
    return Panel(
        height=top + height + 20,
        lines=tuple(lines),
        levels=tuple(levels),
        ticks=tuple(ticks),
        top=top,
        bottom=top + height,
    )


def _lines(values: Any, start: float, step: float, seconds: float, place: Any) -> list[str]:
    """Write one line of points for each stretch without a blank."""
    points = [
        (None if value is None else (_exact_x(start + (at + 0.5) * step, seconds), place(value)))
        for at, value in enumerate(values)
    ]
    runs = [list(run) for known, run in groupby(points, lambda one: one is not None) if known]
    return [" ".join(f"{at[0]:g},{at[1]:g}" for at in run if at) for run in runs if len(run) > 1]


def _exact_x(time: float, seconds: float) -> float:
    return round(LEFT + (RIGHT - LEFT) * min(1.0, time / seconds), 1)


def _x(time: float, seconds: float) -> int:
    return round(_exact_x(time, seconds))


def _pitch_y(cents: float) -> int:
    share = (MOST_CENTS - max(-MOST_CENTS, min(MOST_CENTS, cents))) / (2 * MOST_CENTS)
    return round(PITCH_TOP + share * PITCH_HEIGHT)


def _level_y(level: float) -> int:
    share = (LOUDEST - max(QUIETEST, min(LOUDEST, level))) / (LOUDEST - QUIETEST)
    return round(LEVEL_TOP + share * LEVEL_HEIGHT)
