"""`manage.py restore`: put a backup in the place of the studio."""

from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from studio.commands import KeepingCommand
from studio.services import backups


class Command(KeepingCommand):
    """Checks the backup first, keeps the present studio aside, and lets no erased student back."""

    help = "Put a backup back. Stop the program first."

    def add_arguments(self, parser: CommandParser) -> None:
        """Add which backup, and whether it may take the place of a studio."""
        parser.add_argument("file", help="the backup, such as var/backups/filar-….zip")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="put it in the place of the studio that is here; the old one is kept aside",
        )

    def work(self, **options: Any) -> None:
        """Put it back, and say what that means for everybody."""
        done = backups.restore(
            Path(options["file"]),
            replace=options["replace"],
            moment=timezone.now(),
            say=self.say,
        )
        self.stdout.write(f"The studio is back as it was on {done.about.when}.")
        since, teachers = done.caught_up, done.caught_up.teachers
        self.stdout.write(f"Students who have been erased since and stay erased: {since.erased}")
        self.stdout.write(f"Phones that have been ended since and stay out: {since.signed_out}")
        self.stdout.write(f"Teachers who have left since and stay out: {teachers.taken_out}")
        self.stdout.write(f"Teachers whose part has changed since and stays so: {teachers.changed}")
        if teachers.owners_back:
            self.stdout.write(
                f"Owners who have left since and are back: {teachers.owners_back}. The backup "
                "knows nobody who owns the studio now, and somebody must. Only they can make "
                "another teacher the owner and leave; if they must not get in, put a newer backup "
                "back."
            )
        if done.aside is not None:
            self.stdout.write(f"What was here before is kept: {done.aside}")
        if done.aside is None or not done.knew_all:
            why = "cannot be read in full" if done.aside else "is not here"
            self.stdout.write(
                f"The studio of before {why}, so nobody knows which phones have been signed out "
                "or refused, and which teachers have left or have another part since: look at both."
            )
        self.stdout.write(
            "Phones that were set up then stay so; whichever was set up or confirmed since is set "
            "up anew. Teachers sign in again, with the passwords of that day. What they have "
            "changed since is as it was: look at parents' yes, who gets letters, and whose sound "
            "may be recorded."
        )
