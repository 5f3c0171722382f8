"""``manage.py timeline``: one session as one JSON object on one line; no database, no pages."""

import json
import re
from typing import Any

from django.core.management.base import CommandError, CommandParser

from routines.engine import dynamics, instruments, notes, timeline
from routines.engine.notes import NoteError
from routines.engine.plan import (
    HOLD_LIMITS,
    LENGTH_LIMITS,
    REST_LIMITS,
    TEMPO_LIMITS,
    BlockPlan,
    within,
)
from routines.engine.timeline import Step, Timeline, Totals
from routines.engine.walk import WayBack
from studio.commands import BAD_INPUT, OneLineCommand

_DECIMALS = 9
_HERTZ_DECIMALS = 6
_OPEN = "open"
_DAY_LIMITS = (1, LENGTH_LIMITS[1])
_WHOLE_NUMBER = re.compile(r"[+-]?[0-9]{1,9}")


class Command(OneLineCommand):
    """Print the session that a plan makes."""

    help = "Print one session of held notes as JSON: its totals and every note, in seconds."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the options; what they may be is for the engine to say."""
        add = parser.add_argument
        add("--instrument", required=True, help=", ".join(instruments.ids()))
        add("--hold", required=True, help=f"counts held, {_span(HOLD_LIMITS)}")
        add("--rest", required=True, help=f"counts rested, {_span(REST_LIMITS)}")
        add("--tempo", required=True, help=f"counts a minute, {_span(TEMPO_LIMITS)}")
        add("--start", help="written start note, as G4; without it the instrument's own")
        add("--low", help="written low note, as F#3; without it the instrument's own")
        add("--top", default=_OPEN, help="written top note, as G5, or open (default)")
        add("--back", default=WayBack.RESTART.value, help="restart (default) or step")
        add(
            "--dynamics",
            default=str(dynamics.MEZZO_FORTE),
            help="pp to ff (mf), by-day:f,p, by-note:f,p, inside:swell, inside:fade, inside:grow",
        )
        add("--day", default="1", help=f"day of the month, {_span(_DAY_LIMITS)} (1)")

    def handle(self, *_args: Any, **options: Any) -> str:
        """Build the session and write it down."""
        try:
            day = _number(options, "day", _DAY_LIMITS)
            within("day", day, _DAY_LIMITS)
            session = timeline.build(_plan(options), day)
        except ValueError as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        return json.dumps(_session(session))


def _plan(options: dict[str, Any]) -> BlockPlan:
    """Read the plan; any ValueError says which option to change."""
    instrument = instruments.by_id(options["instrument"])
    start = _note(options, "start")
    low = _note(options, "low")
    return BlockPlan(
        instrument=instrument.id,
        start_note=instrument.start_note if start is None else start,
        low_note=instrument.low_note if low is None else low,
        top_note=None if options["top"] == _OPEN else _note(options, "top"),
        back=_way_back(options["back"]),
        hold=_number(options, "hold", HOLD_LIMITS),
        rest=_number(options, "rest", REST_LIMITS),
        tempo=_number(options, "tempo", TEMPO_LIMITS),
        dynamics=dynamics.parse(options["dynamics"]),
    )


def _number(options: dict[str, Any], option: str, limits: tuple[int, int]) -> int:
    text = str(options[option])
    if not _WHOLE_NUMBER.fullmatch(text):
        raise ValueError(f"{option.title()} {text[:20]!r}: choose a whole number, {_span(limits)}.")
    return int(text)


def _note(options: dict[str, Any], option: str) -> int | None:
    text: str | None = options[option]
    if text is None:
        return None
    try:
        return notes.parse(text)
    except NoteError as error:
        otherwise = " Or leave the top open." if option == "top" else ""
        raise NoteError(f"--{option}: {error}{otherwise}") from error


def _way_back(text: str) -> WayBack:
    try:
        return WayBack(text)
    except ValueError:
        raise ValueError(f"Way back {text!r}: choose {' or '.join(WayBack)}.") from None


def _span(limits: tuple[int, int]) -> str:
    return f"{limits[0]} to {limits[1]}"


def _session(session: Timeline) -> dict[str, Any]:
    return {
        **_totals(session.totals),
        "shortest": _totals(session.shortest) if session.shortest else None,
        "steps": [_step(step) for step in session.steps],
    }


def _totals(totals: Totals) -> dict[str, int | float]:
    return {
        "notes": totals.notes,
        "hold_seconds": round(totals.hold_seconds, _DECIMALS),
        "session_seconds": round(totals.session_seconds, _DECIMALS),
        "share": round(totals.share, _DECIMALS),
        "duty": round(totals.duty, _DECIMALS),
    }


def _step(step: Step) -> dict[str, int | float | str]:
    return {
        "index": step.index,
        "written": step.written,
        "name": step.name,
        "sounding": step.sounding,
        "hz": round(step.hertz, _HERTZ_DECIMALS),
        "start": round(step.start, _DECIMALS),
        "hold": round(step.hold, _DECIMALS),
        "rest": round(step.rest, _DECIMALS),
        "fingering": step.fingering,
        "dynamic": step.dynamic,
    }
