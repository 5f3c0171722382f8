"""The app of what came of it."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import post_delete


class ProgressConfig(AppConfig):
    """What came of it: check-ins, lesson ratings, recordings, the overview."""

    name = "progress"

    def ready(self) -> None:
        """Let the sound of a recording go with its row, also where a student is erased."""
        files = import_module("progress.services.recording_files")
        post_delete.connect(files.delete_with_row, sender=self.get_model("Recording"))
