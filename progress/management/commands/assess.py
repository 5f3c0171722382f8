"""``manage.py assess``: one JSON line for each student and day; no database, no pages.

Conventions: JSON Lines in and out (https://jsonlines.org), one object a student. A line that cannot
be read is reported with its number on standard error, the others still run.
"""

import json
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import IO, Any

from django.core.management.base import CommandError, CommandParser

from progress.engine import evidence_json
from progress.engine.assessment_json import as_json
from progress.engine.evidence import EvidenceError, check_day
from progress.engine.evidence_json import Named
from progress.engine.readiness import Assessment, assess, assess_block
from studio.commands import BAD_INPUT, OneLineCommand

STANDARD_INPUT = "-"
BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class Command(OneLineCommand):
    """Print the assessment of every student in a file, for every day of the block."""

    help = "Assess students from JSON Lines: one line for each student and day of the block."

    def add_arguments(self, parser: CommandParser) -> None:
        """Name the file and the day."""
        parser.add_argument(
            "file",
            nargs="?",
            default=STANDARD_INPUT,
            help="a file of JSON Lines, one student a line; - or nothing is standard input",
        )
        parser.add_argument("--day", help="only this day, as 2026-03-31; also one after the block")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Assess line by line; a bad line is reported and passed over."""
        day = _day(options["day"])
        status = 0
        for number, line in _lines(options["file"]):
            try:
                named = evidence_json.parse(_text(line))
            except EvidenceError as error:
                status = BAD_INPUT
                self.stderr.write(f"Line {number}: {error}")
                continue
            for assessment in _assessments(named, day):
                self.stdout.write(json.dumps(as_json(named.id, assessment)))
        if status:
            sys.exit(status)


def _assessments(named: Named, day: date | None) -> tuple[Assessment, ...]:
    return assess_block(named.evidence) if day is None else (assess(named.evidence, day),)


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        day = evidence_json.parse_day(text, "--day")
        check_day("--day", day)
    except EvidenceError as error:
        raise CommandError(str(error), returncode=BAD_INPUT) from error
    return day


def _lines(name: str) -> Iterator[tuple[int, bytes]]:
    """Read the lines that say something, each with its number from 1."""
    try:
        if name == STANDARD_INPUT:
            yield from _numbered(sys.stdin.buffer)
        else:
            with Path(name).open("rb") as file:
                yield from _numbered(file)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        message = f"{ascii(name)[:60]}: {why}. Name a file of JSON Lines, or - for standard input."
        raise CommandError(message, returncode=BAD_INPUT) from error


def _numbered(file: IO[bytes]) -> Iterator[tuple[int, bytes]]:
    for number, line in enumerate(file, 1):
        said = line.removeprefix(BYTE_ORDER_MARK) if number == 1 else line
        if said.strip():
            yield number, said


def _text(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        raise EvidenceError("line", "not UTF-8 text: write JSON Lines in UTF-8.") from None
