"""``manage.py import_studio``: a studio made anew from what `export_studio` wrote."""

import json
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from progress.services.import_studio import StudioFileError, import_studio
from studio.commands import BAD_INPUT, OneLineCommand


class Command(OneLineCommand):
    """Read a studio's document and make all of it, or nothing."""

    help = "Make a studio from a file of export_studio: all of it, or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file."""
        parser.add_argument("file", help="a file of export_studio, or - for standard input")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Print what was made as one JSON object."""
        try:
            made = import_studio(_text(options["file"]))
        except StudioFileError as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        self.stdout.write(json.dumps({"studio": made.studio, "rows": made.rows}))


def _text(name: str) -> str:
    try:
        raw = sys.stdin.buffer.read() if name == "-" else Path(name).read_bytes()
        return raw.decode("utf-8-sig")
    except OSError as error:
        message = f"{ascii(name)[:80]}: {error.strerror}. Name a file that can be read."
    except UnicodeDecodeError:
        message = f"{ascii(name)[:80]} is not UTF-8: give a file of export_studio as it was made."
    raise CommandError(message, returncode=BAD_INPUT)
