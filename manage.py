#!/usr/bin/env python3
"""Run one of Filar's commands: `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    """Hand the command line to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        # Only here can a missing package be answered in words.
        from django.core.management import execute_from_command_line  # noqa: PLC0415
    except ImportError:
        sys.exit("Filar's packages are not installed here. Type: make setup")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
