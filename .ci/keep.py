"""Run a command on the studio that `make run` serves: `keep.py backup`, `keep.py send_letters`.

Typed as `manage.py …` a command works on the demo's studio, unless `DATABASE_URL` says else.
"""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from serve import TOP, choose_database

if __name__ == "__main__":
    choose_database("run")
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    os.umask(0o077)  # children's data: nobody else on this computer reads it
    sys.path.insert(0, str(TOP))
    try:
        execute_from_command_line(["manage.py", *sys.argv[1:]])
    except ImproperlyConfigured as error:
        print(error, file=sys.stderr)
        sys.exit(2)
