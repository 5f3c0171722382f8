"""``manage.py export_studio STUDIO``: write a studio whole as one JSON document."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from progress.exports.studio_file import write_studio
from studio.commands import BAD_INPUT, OneLineCommand
from studio.models import Studio

ONLY_MINE = 0o600


class Command(OneLineCommand):
    """Write everything a studio holds, but for what opens a door."""

    help = "Write a studio as one JSON document: personal data of children, so keep it well."

    def add_arguments(self, parser: CommandParser) -> None:
        """Ask which studio, and where to."""
        parser.add_argument("studio", help="the studio's public id")
        parser.add_argument("--out", help="a new file, readable by you alone; else the window")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Write row by row; a file appears when it is whole."""
        pieces = write_studio(_studio(options["studio"]), moment=timezone.now())
        if options["out"] is None:
            for piece in pieces:
                self.stdout.write(piece, ending="")
        else:
            _to_a_new_file(Path(options["out"]), pieces)


def _studio(given: str) -> Studio:
    studios = list(Studio.objects.order_by("pk"))
    for studio in studios:
        if studio.public_id == given:
            return studio
    known = ", ".join(f"{each.public_id} ({each.name})" for each in studios) or "none yet"
    message = f"There is no studio {ascii(given)[:40]}: choose one of {known}."
    raise CommandError(message, returncode=BAD_INPUT)


def _to_a_new_file(out: Path, pieces: Iterable[str]) -> None:
    """Write beside the name and put it in place at the end; nothing that is there is touched."""
    part = out.with_name(f"{out.name}.part")
    if out.exists():
        message = f"{out} is there already: choose another name."
        raise CommandError(message, returncode=BAD_INPUT)
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, ONLY_MINE)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.writelines(pieces)
            file.flush()
            os.fsync(file.fileno())
        part.replace(out)
    except OSError as error:
        part.unlink(missing_ok=True)
        message = f"{out}: {error.strerror}. Choose another place."
        raise CommandError(message, returncode=BAD_INPUT) from error
