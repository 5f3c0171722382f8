"""The app of what is played."""

from django.apps import AppConfig


class RoutinesConfig(AppConfig):
    """What is played: blocks, months, the session of a day."""

    name = "routines"
