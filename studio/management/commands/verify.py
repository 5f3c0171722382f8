"""`manage.py verify`: rehearse putting a backup back, and leave nothing of it."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser

from studio.commands import KeepingCommand
from studio.services import backup_file, backups


class Command(KeepingCommand):
    """Holds every part against its sum, unpacks the tables beside the studio's, and counts."""

    help = "Rehearse a restore of a backup, without touching the studio."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add which backup."""
        parser.add_argument("file", nargs="?", help="the backup; without it the newest")

    def work(self, **options: Any) -> None:
        """Rehearse, and say what the backup holds."""
        file = Path(options["file"]) if options["file"] else backup_file.newest(settings.BACKUPS)
        if file is None:
            message = f"There is no backup in {settings.BACKUPS}: name one."
            raise backup_file.BackupError(message)
        about = backups.verify(file, self.say)
        students, check_ins = (about.rows[name] for name in ("studio_student", "progress_checkin"))
        self.stdout.write(
            f"{file} is sound: made on {about.when}, {students} students, {check_ins} check-ins"
        )
