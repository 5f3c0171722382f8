"""``manage.py export_studio``: everything a studio holds, as one JSON document."""

from collections.abc import Iterable
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from progress.exports.everything import studio_text
from progress.queries.tables import one_moment
from studio.commands import BAD_INPUT, OneLineCommand
from studio.models import Studio


class Command(OneLineCommand):
    """Write a studio to standard output, or to a file only its owner may read."""

    help = "Print a whole studio as JSON: personal data of children, so keep it safe."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the studio and where to."""
        parser.add_argument("studio", nargs="?", help="its public id, where there are several")
        parser.add_argument("--out", help="write to this new file instead of standard output")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Write it piece by piece."""
        with one_moment():
            self._write(studio_text(_studio(options["studio"]), timezone.now()), options["out"])

    def _write(self, pieces: Iterable[str], out: str | None) -> None:
        if out is None:
            for piece in pieces:
                self.stdout.write(piece, ending="")
            return
        path = Path(out)
        if path.exists():
            message = f"{out} is there already: name a file that is not."
            raise CommandError(message, returncode=BAD_INPUT)
        try:
            _write(path, pieces)
        except OSError as error:
            message = f"{out}: {error.strerror}. Name a file you may write."
            raise CommandError(message, returncode=BAD_INPUT) from error


def _write(path: Path, pieces: Iterable[str]) -> None:
    """Write a file that only its owner may read, whole or not at all."""
    with NamedTemporaryFile("w", dir=path.parent, encoding="utf-8", delete=False) as out:
        unfinished = Path(out.name)
        try:
            out.writelines(pieces)
        except BaseException:
            unfinished.unlink()
            raise
    unfinished.rename(path)


def _studio(given: str | None) -> Studio:
    studios = list(Studio.objects.order_by("pk"))
    chosen = [studio for studio in studios if given in {None, studio.public_id}]
    if len(chosen) == 1:
        return chosen[0]
    known = ", ".join(studio.public_id for studio in studios) or "none yet"
    said = "Which studio?" if given is None else f"There is no studio {ascii(given)[:40]}:"
    message = f"{said} Choose one of {known}."
    raise CommandError(message, returncode=BAD_INPUT)
