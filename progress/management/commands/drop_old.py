"""``manage.py drop_old``: drop what a studio keeps no longer; for a timer, once a night."""

import json
from argparse import ArgumentParser
from typing import Any

from django.db import transaction
from django.utils import timezone

from progress.services.drop_old import drop_old, drop_sessions
from studio.access import practice_day
from studio.commands import OneLineCommand
from studio.models import Studio


class Command(OneLineCommand):
    """Prints a JSON line for each studio, and one for what belongs to none."""

    help = "Drop what is older than each studio keeps it. Run it every night."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Offer a look at what would go."""
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would be dropped, and drop nothing"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        """Drop, and print how many of what."""
        moment = timezone.now()
        with transaction.atomic():
            for studio in Studio.objects.order_by("pk"):
                today = practice_day(studio, moment)
                counts = drop_old(studio, moment=moment, today=today)
                self.stdout.write(json.dumps({"studio": studio.public_id} | counts))
            self.stdout.write(json.dumps(drop_sessions(moment=moment)))
            transaction.set_rollback(options["dry_run"])
