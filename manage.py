#!/usr/bin/env python3
"""Run one of Filar's commands: `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        # Only here can a missing package be answered in words.
        from django.core.exceptions import ImproperlyConfigured  # noqa: PLC0415
        from django.core.management import execute_from_command_line  # noqa: PLC0415
    except ImportError:
        sys.exit("Filar's packages are not installed here. Type: make setup")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        print(error, file=sys.stderr)  # noqa: T201 - a setting that is wrong, in one line
        sys.exit(2)


if __name__ == "__main__":
    main()
