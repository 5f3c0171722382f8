"""The app of what came of it."""

from django.apps import AppConfig


class ProgressConfig(AppConfig):
    """What came of it: check-ins, lesson ratings, the overview."""

    name = "progress"
