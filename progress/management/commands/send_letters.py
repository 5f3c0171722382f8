"""``manage.py send_letters``: write down the letters that are due, and send what waits."""

import json
from typing import Any

from django.utils import timezone

from progress.services.planned_letters import plan_letters
from studio.commands import OneLineCommand
from studio.services.letters import send_waiting


class Command(OneLineCommand):
    """For a timer, once a minute: it does what is due and ends."""

    help = "Send the letters that are due: at once, on Mondays, reminders. Run it every minute."

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Print what was done as one JSON object."""
        moment = timezone.now()
        plan_letters(moment)
        self.stdout.write(json.dumps(send_waiting(moment)))
