"""`manage.py backup`: make a checked backup of the studio, and forget the oldest ones."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser
from django.utils import timezone

from studio.commands import KeepingCommand
from studio.services import backups


class Command(KeepingCommand):
    """Copies the database while the program runs, and reads the copy back before it counts."""

    help = "Make a checked backup. Sessions and links that have not been used are left out."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add where to."""
        parser.add_argument(
            "--to", default=str(settings.BACKUPS), help="the folder of the backups (%(default)s)"
        )

        parser.add_argument(
            "--before-changes",
            action="store_true",
            help="only if this release of the program will change the studio's tables",
        )

    def work(self, **options: Any) -> None:
        """Make it, and say where it lies."""
        if options["before_changes"] and not backups.is_due_before_changes():
            return
        file = backups.make(Path(options["to"]), moment=timezone.now(), say=self.say)
        size = file.stat().st_size / 1_000_000
        self.stdout.write(f"{file} ({size:.1f} MB, checked)")
