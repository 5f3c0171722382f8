"""`manage.py check_database`: say whether a studio can be served from the database."""

from typing import Any

from django.core.management.base import CommandError, CommandParser

from studio import crossings
from studio.commands import OneLineCommand
from studio.services import standing


class Command(OneLineCommand):
    """Says "ok", or what is wrong and what to do, with exit status 1."""

    help = (
        "Look at the database: whether it is there, whole, and set so that nothing acknowledged "
        "is lost."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Add what the start of a lasting studio asks for."""
        parser.add_argument(
            "--expect",
            action="store_true",
            help="if there is a studio, refuse an empty database in its place from now on",
        )

        parser.add_argument(
            "--studios",
            action="store_true",
            help="look also for rows that lead from one studio into another; let a timer do it",
        )

    def handle(self, **options: Any) -> None:
        """Look, and say it."""
        if wrong := standing.what_is_wrong():
            raise CommandError(wrong, returncode=1)
        if options["studios"] and (crossing := list(crossings.found())):
            words = ", ".join(f"{where}: {rows}" for where, rows in crossing)
            message = f"Rows that lead from one studio into another: {words}. Tell us about it."
            raise CommandError(message, returncode=1)
        if options["expect"]:
            standing.expect_from_now_on()
        if options["verbosity"]:
            self.stdout.write("ok")
