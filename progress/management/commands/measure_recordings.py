"""``manage.py measure_recordings``: measure the recordings that wait."""

import json
from typing import Any

from django.core.management.base import CommandError

from progress.services.measuring import NEEDED, can_measure, measure_waiting
from studio.commands import BAD_INPUT, OneLineCommand


class Command(OneLineCommand):
    """For a timer, every few minutes: it takes what a server process has left behind."""

    help = "Measure the recordings that wait. The server does so itself; a timer catches the rest."

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Print what was done as one JSON object."""
        if not can_measure():
            words = f"Measuring needs {', '.join(NEEDED)}: install requirements-recordings.txt."
            raise CommandError(words, returncode=BAD_INPUT)
        self.stdout.write(json.dumps(measure_waiting()))
