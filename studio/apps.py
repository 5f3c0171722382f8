"""The app of a studio's people."""

from django.apps import AppConfig


class StudioConfig(AppConfig):
    """Who: studios, teachers, students, phones."""

    name = "studio"
