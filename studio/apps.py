"""The app of a studio's people."""

from importlib import import_module

from django.apps import AppConfig
from django.db.models.signals import pre_save


class StudioConfig(AppConfig):
    """Who: studios, teachers, students, phones."""

    name = "studio"

    def ready(self) -> None:
        """Make Django aware of our checks, the wall between studios, and who notes a sign-in."""
        import_module("studio.checks")
        import_module("studio.sessions")
        crossings = import_module("studio.crossings")
        pre_save.connect(crossings.refuse, dispatch_uid="between studios")
