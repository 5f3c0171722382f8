"""The app of a studio's people."""

from importlib import import_module

from django.apps import AppConfig


class StudioConfig(AppConfig):
    """Who: studios, teachers, students, phones."""

    name = "studio"

    def ready(self) -> None:
        """Let Django know of the project's own checks, and of who notes a sign-in."""
        import_module("studio.checks")
        import_module("studio.sessions")
