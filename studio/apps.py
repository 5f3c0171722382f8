"""The app of a studio's people."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import pre_save


class StudioConfig(AppConfig):
    """Who: studios, teachers, students, phones."""

    name = "studio"

    def ready(self) -> None:
        """Let Django know of the project's own checks, and of the wall between studios."""
        import_module("studio.checks")
        crossings = import_module("studio.crossings")
        pre_save.connect(crossings.refuse, dispatch_uid="between studios")
