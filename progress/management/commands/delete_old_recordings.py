"""``manage.py delete_old_recordings``: the sound of a recording goes when its date is past."""

import json
from datetime import timedelta
from typing import Any

from django.utils import timezone

from progress.services.recordings import let_go
from studio.commands import OneLineCommand


class Command(OneLineCommand):
    """For a timer, once a night. Until it runs, no page gives out a sound whose date is past."""

    help = "Delete the sound of recordings whose date is past. The figures stay."

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Print what was done as one JSON object."""
        moment = timezone.now()
        # Somewhere it may still be yesterday, by 12 hours and a practice day that ends late.
        earliest = (moment - timedelta(hours=24)).date()
        self.stdout.write(json.dumps(let_go(today=earliest, moment=moment)))
