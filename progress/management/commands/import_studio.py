"""``manage.py import_studio FILE``: bring a studio in from the file that export_studio wrote."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from progress.services.bring_in import BroughtIn, FileError, bring_in
from studio.commands import BAD_INPUT, OneLineCommand


class Command(OneLineCommand):
    """Bring a studio in, whole or not at all."""

    help = "Bring in a studio that export_studio wrote; passwords and phones are set anew."

    def add_arguments(self, parser: CommandParser) -> None:
        """Ask for the file."""
        parser.add_argument("file", help="the file that export_studio wrote")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Bring it in, and say how to go on."""
        try:
            with Path(options["file"]).open(encoding="utf-8") as file:
                made = bring_in(file)
        except OSError as error:
            message = f"{options['file']!a}: {error.strerror}. Name a file that can be read."
            raise CommandError(message, returncode=BAD_INPUT) from error
        except FileError as error:
            message = f"{options['file']!a}: {error}"
            raise CommandError(message, returncode=BAD_INPUT) from error
        self.stdout.write("\n".join(_words(made)))


def _words(made: BroughtIn) -> list[str]:
    counts = ", ".join(f"{name} {count}" for name, count in made.counts.items())
    return [
        f"Brought in: {made.studio.name} ({counts}).",
        "No password came along. Set one for each teacher:",
        *(f"    manage.py changepassword {email}" for email in made.owners),
        "No phone came along either: set each up anew from the student’s page.",
    ]
