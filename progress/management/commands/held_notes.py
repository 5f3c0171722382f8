"""``manage.py held_notes``: one recording measured, as one JSON object; no database, no pages."""

import json
import re
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from progress.engine.held_notes import apart
from progress.engine.held_notes.limits import OWN_FILE, RecordingError
from progress.engine.held_notes.request import Request, RequestError
from studio.commands import BAD_INPUT, OneLineCommand

_NUMBER = re.compile(r"\+?[0-9]{1,6}(\.[0-9]{1,6})?")
_WHOLE_NUMBER = re.compile(r"[0-9]{1,4}")


class Command(OneLineCommand):
    """Measure one recording of held notes."""

    help = (
        "Measure a recording of held notes: pitch, level, start, end and counts of every note, as "
        "one JSON object. Units and definitions: docs/held-notes.md."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the file and what is known beside it."""
        add = parser.add_argument
        add("file", help="a recording: WAV, FLAC, Ogg or MP3")
        add("--expect", help="the notes expected, as sounding MIDI numbers: 65,64,63")
        add("--tempo", help="counts a minute; without it nothing is counted")
        add("--hold", help="counts held; needs --tempo")
        add("--rest", help="counts rested; needs --tempo")
        add("--a4", default="440", help="tuning in Hz (440)")
        add(
            "--processed",
            action="store_true",
            help="the browser's own processing was on: level, attack and release stay blank",
        )

    def handle(self, *_args: Any, **options: Any) -> str:
        """Measure the file and write it down."""
        name = str(options["file"])
        try:
            request = _request(options)
        except RequestError as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        try:
            measured = apart.measure_file(Path(name), request, OWN_FILE)
        except (RecordingError, ValueError, OSError) as error:
            line = " ".join(f"{ascii(name)[:80]}: {error}".split())
            raise CommandError(line, returncode=BAD_INPUT) from error
        return json.dumps(measured)


def _request(options: dict[str, Any]) -> Request:
    """Read the options; a RequestError says which one to change."""
    a4 = _number(options, "a4")
    return Request(
        expected=_expected(options["expect"]),
        tempo=_number(options, "tempo"),
        hold=_number(options, "hold"),
        rest=_number(options, "rest"),
        a4=440.0 if a4 is None else a4,
        processed=bool(options["processed"]),
    )


def _number(options: dict[str, Any], option: str) -> float | None:
    if options[option] is None:
        return None
    text = str(options[option])
    if not _NUMBER.fullmatch(text):
        raise RequestError(f"--{option} {text[:20]!r}: write a number, such as 60.")
    return float(text)


def _expected(text: str | None) -> tuple[int, ...]:
    if text is None:
        return ()
    parts = [part.strip() for part in str(text).split(",")]
    wrong = next((part for part in parts if not _WHOLE_NUMBER.fullmatch(part)), None)
    if wrong is not None:
        raise RequestError(
            f"--expect {wrong[:20]!r}: write sounding MIDI numbers with commas, such as 65,64,63."
        )
    return tuple(int(part) for part in parts)
