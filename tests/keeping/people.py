"""Make the tables and invented students with a phone each, and print how their phones get in.

`DATABASE_URL=… python -m tests.keeping.people 8` prints a JSON list of {"student", "cookie"}.
"""

import json
import os
import sys

import django
from django.core.management import call_command

TEACHER = "runa@example.org"


def main(number: int) -> None:
    """Make so many students in one studio, each in the second week of a block."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    django.setup()
    call_command("migrate", interactive=False, verbosity=0)
    from tests import makers  # noqa: PLC0415 - models are there only now

    studio = makers.a_studio()
    makers.a_teacher(studio, email=TEACHER)
    made = []
    for one in range(number):
        student = makers.a_student(studio, name=f"Student {one + 1}")
        makers.a_block(student, weekdays_off=[])
        paired = makers.a_grant(student)
        made.append({"student": student.public_id, "cookie": paired.cookie})
    call_command("check_database", expect=True, verbosity=0)
    sys.stdout.write(json.dumps(made) + "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]))
