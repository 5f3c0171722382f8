"""The program as it is served, in processes of its own that can be killed, on either database."""

import http.client
import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from copy import copy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from tests import makers, tree
from tests.ports import free_port

HOST = "127.0.0.1"
PATIENCE_SECONDS = 60
COOKIE = "filar_d"


class Phone:
    """A student's phone, which keeps what it was told; each answer is read to its end."""

    def __init__(self, port: int, student: str, cookie: str) -> None:
        self.port, self.student = port, student
        self.cookies = {COOKIE: cookie}
        self.token = ""

    def ask(self, method: str, path: str, body: str = "") -> tuple[int, str]:
        """Send one request; a server that is gone raises OSError or HTTPException."""
        headers = {
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "Accept": "application/json",
            "Content-Type": "application/x-www-form-urlencoded",
            "X-CSRFToken": self.token,
        }
        with closing(http.client.HTTPConnection(HOST, self.port, timeout=40)) as line:
            line.request(method, path, body or None, headers)
            answer = line.getresponse()
            text = answer.read().decode()
            for header in answer.headers.get_all("Set-Cookie") or ():
                name, value = header.split(";")[0].split("=", 1)
                self.cookies[name] = value
        return answer.status, text

    def get_ready(self) -> None:
        """Fetch the token that every post carries."""
        self.token = json.loads(self.ask("GET", "/practice/phone")[1])["token"]

    def check_in(self, key: str = "", **changes: Any) -> tuple[str, int]:
        """File a check-in; give its key and the status of the answer."""
        key = key or str(uuid4())
        now = datetime.now(UTC)
        fields = makers.the_answers(key=key, day=now.date(), done_at=now.isoformat(), **changes)
        return key, self.ask("POST", f"/practice/{self.student}/check-in", urlencode(fields))[0]


class Served:
    """A studio on its own server: two processes of four threads each, as `make run` starts it."""

    def __init__(self, database: str, var: Path, *, students: int) -> None:
        self.port = free_port()
        self.environment = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("FILAR_", "DJANGO_", "DATABASE_URL", "PORT", "PYTEST"))
        } | {"DATABASE_URL": database, "FILAR_VAR": str(var)}
        self.environment["PORT"] = str(self.port)
        done = self.command("-m", "tests.keeping.people", str(students))
        assert done.returncode == 0, done.stderr
        self.people = json.loads(done.stdout.splitlines()[-1])
        self.log = var / "server.log"
        self.process: subprocess.Popen[bytes] | None = None

    def beside(self) -> "Served":
        """Make a second server on another port: the same database and key, nothing else."""
        other = copy(self)
        other.port = free_port()
        other.environment = self.environment | {"PORT": str(other.port)}
        other.process = None
        other.start()
        return other

    def command(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run Python on this studio's database, to the end."""
        return subprocess.run(
            [sys.executable, *arguments],
            cwd=tree.TOP,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )

    def start(self) -> float:
        """Start the server; give the seconds until it answers."""
        began = time.monotonic()
        command = ["-m", "gunicorn", "--config", "python:config.gunicorn", "config.wsgi"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, *command],
                cwd=tree.TOP,
                env=self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        while self.health() != "ok":
            assert self.process.poll() is None, self.log.read_text()
            assert time.monotonic() - began < PATIENCE_SECONDS, self.log.read_text()
            time.sleep(0.02)
        return time.monotonic() - began

    def health(self) -> str:
        """Ask /healthz; a server that is not there says nothing."""
        try:
            return Phone(self.port, "", "").ask("GET", "/healthz")[1]
        except (OSError, http.client.HTTPException):
            return ""

    def kill(self) -> None:
        """Kill every process of the server at once, in the middle of whatever it does."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def phone(self, number: int) -> Phone:
        """Give one of the phones, ready to post."""
        one = self.people[number % len(self.people)]
        phone = Phone(self.port, one["student"], one["cookie"])
        phone.get_ready()
        return phone


def faults_of(file: Path) -> str:
    """Let SQLite look through a whole file; "ok" is none."""
    with closing(sqlite3.connect(file, timeout=30)) as database:
        return str(database.execute("PRAGMA integrity_check").fetchone()[0])
