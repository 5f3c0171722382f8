"""Which static files are collected."""

from django.contrib.staticfiles.apps import StaticFilesConfig


class FilarStaticFilesConfig(StaticFilesConfig):
    """Leave out what no page of ours uses, so that collecting stays quick."""

    ignore_patterns = StaticFilesConfig.ignore_patterns + ["account/js/*"]  # noqa: RUF005
