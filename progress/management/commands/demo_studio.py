"""``manage.py demo_studio``: fill an empty database with a studio of invented people, once."""

import json
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from progress.demo import doors, filling
from progress.demo.filling import Demo, OtherStudioError
from studio.commands import BAD_INPUT, OneLineCommand

DEFAULT_SEED = 8


class Command(OneLineCommand):
    """Makes the demo's studio where there is none, and says how to get in."""

    help = "Fill an empty database with a studio of invented people, and say how to get in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what may be asked."""
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument(
            "--seed", type=int, default=DEFAULT_SEED, help="draw another three months of practice"
        )

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002 - Django's shape
        """Fill once, then print the doors; a second run keeps everything that was typed."""
        if settings.PUBLIC:
            message = (
                f"{settings.ADDRESS} is a public address, and the demo's password is known to all: "
                "run demo_studio without FILAR_ADDRESS."
            )
            raise CommandError(message, returncode=BAD_INPUT)
        call_command("migrate", interactive=False, verbosity=0)
        moment = timezone.now()
        try:
            demo = filling.find() or filling.fill(seed=options["seed"], moment=moment)
        except OtherStudioError as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        lines = [_as_json(demo, moment)] if options["json"] else _as_text(demo, moment)
        self.stdout.write("\n".join(lines))


def _as_json(demo: Demo, moment: datetime) -> str:
    students = [
        {
            "name": student.name,
            "instrument": student.instrument,
            "pair": doors.fresh_path(demo, student, moment=moment),
        }
        for student in doors.students(demo)
    ]
    teacher = {"email": demo.teacher.email, "password": doors.password(demo)}
    return json.dumps({"teacher": teacher, "students": students}, ensure_ascii=False)


def _as_text(demo: Demo, moment: datetime) -> list[str]:
    password = doors.password(demo) or "the one you chose"
    lines = [
        f"The teacher's page: {settings.ADDRESS}/",
        f"Sign in with: {demo.teacher.email}   Password: {password}",
    ]
    student = doors.shown_first(demo)
    if student is not None:
        path = doors.fresh_path(demo, student, moment=moment)
        lines += [
            f"Open this in a second browser: it is {student.name}'s phone. It works once.",
            f"{settings.ADDRESS}{path}",
        ]
    return lines
