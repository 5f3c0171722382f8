"""``manage.py export_decisions``: one JSON line a decision, and the chance beside it."""

import json
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django_scopes import scope

from progress.exports.decisions import lines
from progress.models import Decision
from studio.commands import BAD_INPUT, OneLineCommand
from studio.models import Studio


class Command(OneLineCommand):
    """Print the history of decisions, by ids alone."""

    help = "Print every decision as a JSON line: what was said, decided, and heard afterwards."

    def add_arguments(self, parser: CommandParser) -> None:
        """Narrow it to one studio."""
        parser.add_argument("--studio", help="only this studio, by its public id")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Print studio by studio, the oldest first."""
        for studio in _studios(options["studio"]):
            with scope(studio=studio):
                rows = Decision.objects.select_related("student__studio", "block", "next_block")
                for line in lines(rows.order_by("decided_at", "pk")):
                    self.stdout.write(json.dumps(line))


def _studios(given: str | None) -> list[Studio]:
    studios = list(Studio.objects.order_by("pk"))
    if given is None:
        return studios
    chosen = [studio for studio in studios if studio.public_id == given]
    if not chosen:
        known = ", ".join(studio.public_id for studio in studios) or "none yet"
        message = f"There is no studio {ascii(given)[:40]}: choose one of {known}."
        raise CommandError(message, returncode=BAD_INPUT)
    return chosen
