"""The app of what came of it."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_delete

from routines.signals import recording_wanted


class ProgressConfig(AppConfig):
    """What came of it: check-ins, lesson ratings, recordings, the overview."""

    name = "progress"

    def ready(self) -> None:
        """Let a recording's sound go with its row, from wherever; ask for one with new blocks."""
        files = import_module("progress.services.recording_files")
        post_delete.connect(files.delete_with_row, sender=self.get_model("Recording"))
        orders = import_module("progress.services.recordings")
        recording_wanted.connect(orders.ask_when_assigned)
