"""Bring a studio's database up to date, say how to get in, and serve it.

`serve.py demo` fills var/filar.sqlite3 with invented people, once; `serve.py run` opens the
lasting studio of DATABASE_URL, or of var/studio.sqlite3. `serve.py serve` serves that one as it is,
for as many processes on as many hosts as you like: it changes no table. Started by the Makefile.
"""

import hashlib
import os
import socket
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import django
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connections

TOP = Path(__file__).resolve().parent.parent
HOST = "127.0.0.1"


def port() -> int:
    """Read PORT, and make sure that nobody else listens there."""
    given = os.environ.get("PORT", "8000")
    if not given.isascii() or not given.isdigit() or not 1 <= int(given) <= 65535:
        sys.exit(f"PORT={given}: write a number from 1 to 65535, such as 8001.")
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, int(given)))
        except PermissionError:
            sys.exit(f"Port {given} is for root only. Type: PORT=8000 make {sys.argv[1]}")
        except OSError:
            free = "8001" if given != "8001" else "8002"
            sys.exit(f"Port {given} is taken. Type: PORT={free} make {sys.argv[1]}")
    return int(given)


def choose_database(kind: str) -> None:
    """Keep invented people and real ones apart: each kind of studio has a database of its own."""
    if kind == "demo":
        os.environ.pop("DATABASE_URL", None)
    elif not os.environ.get("DATABASE_URL"):
        folder = Path(os.environ.get("FILAR_VAR", TOP / "var")).absolute()
        os.environ["DATABASE_URL"] = f"sqlite:///{quote(str(folder / 'studio.sqlite3'))}"


def static_files() -> Iterator[Path]:
    """List what decides about the collected files: ours, and the packages that bring some."""
    yield TOP / "requirements.txt"
    yield TOP / "config" / "staticfiles.py"
    yield from sorted(path for path in (TOP / "static").rglob("*") if path.is_file())


def collect_static() -> None:
    """Collect the static files under hashed names, if one of them has changed."""
    digest = hashlib.sha256()
    for path in static_files():
        digest.update(f"{path.relative_to(TOP)}\0".encode() + path.read_bytes())
    root = Path(settings.STATIC_ROOT)
    stamp = root.with_name("static-collected")
    if not stamp.is_file() or stamp.read_text() != digest.hexdigest() or not root.is_dir():
        call_command("collectstatic", interactive=False, clear=True, verbosity=0)
        stamp.write_text(digest.hexdigest())


def prepare(kind: str) -> None:
    """Bring the database up to date and print how to get in."""
    try:
        django.setup()
        call_command("check_database", verbosity=0)
        if kind != "demo":
            call_command("backup", before_changes=True)
        call_command("migrate", interactive=False, verbosity=0)
        if kind != "demo":
            call_command("check_database", expect=True, verbosity=0)
        if kind != "migrate":  # an older program may be giving out its own files still
            collect_static()
        call_command("demo_studio" if kind == "demo" else "first_run")
    except (ImproperlyConfigured, CommandError) as error:
        sys.exit(str(error))
    except DatabaseError as error:
        sys.exit(f"The database does not answer: {error}".rstrip())
    connections.close_all()


def check() -> None:
    """Make sure that the database is there and up to date; change nothing in it."""
    try:
        django.setup()
        call_command("check_database", verbosity=0)
        call_command("migrate", check_unapplied=True, verbosity=0, interactive=False)
        collect_static()
    except (ImproperlyConfigured, CommandError) as error:
        sys.exit(str(error))
    except SystemExit:
        sys.exit(
            "The tables are older than the program. Type: make migrate (see docs/production.md)"
        )
    except DatabaseError as error:
        sys.exit(f"The database does not answer: {error}".rstrip())
    connections.close_all()


def main(kind: str) -> None:
    """Prepare the studio and become its server."""
    number = 0 if kind == "migrate" or os.environ.get("FILAR_BIND") else port()
    choose_database(kind)
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings"
    os.chdir(TOP)
    os.umask(0o077)  # children's data: nobody else on this computer reads var/
    sys.path.insert(0, str(TOP))
    if kind == "serve":
        check()
    else:
        prepare(kind)
    if kind == "migrate":
        return
    where = os.environ.get("FILAR_BIND") or f"{HOST}:{number}"
    behind = f", through the web server before {where}" if settings.PUBLIC else ""
    print(f"\nFilar answers at {settings.ADDRESS}{behind}   (Ctrl+C stops it)", flush=True)
    command = ["-m", "gunicorn", "--config", "python:config.gunicorn", "config.wsgi"]
    os.execv(sys.executable, [sys.executable, *command])  # noqa: S606 - no shell is wanted


if __name__ == "__main__":
    main(sys.argv[1])
