"""A studio with its own database and its own server, as `make serve` starts it."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from tests import tree
from tests.bench.load import HOST, Ask, once
from tests.ports import free_port

WORKERS = 2
PATIENCE_SECONDS = 60
ANSWERS = {
    "attack": "4",
    "sound": "4",
    "evenness": "4",
    "release": "4",
    "effort": "6",
    "hurt": "no",
}


def environment() -> dict[str, str]:
    """Give the environment without what would lead a server to another studio."""
    ours = ("FILAR_", "DJANGO_", "DATABASE_URL", "PORT")
    return {key: value for key, value in os.environ.items() if not key.startswith(ours)}


class Server:
    """A database that was filled, and gunicorn before it."""

    def __init__(self, name: str, database: str, var: Path) -> None:
        self.name, self.port = name, free_port()
        var.mkdir(parents=True, exist_ok=True)
        self._environment = environment() | {
            "DATABASE_URL": database,
            "FILAR_VAR": str(var),
            "DJANGO_SETTINGS_MODULE": "tests.bench.settings",
            "PORT": str(self.port),
            "FILAR_WORKERS": str(WORKERS),
        }
        self._log = var / "server.log"
        self._process: subprocess.Popen[bytes] | None = None
        self.people: dict[str, Any] = {}

    def fill(self, *arguments: str) -> None:
        """Fill the database and collect the static files."""
        self._run("manage.py", "collectstatic", "--noinput", "-v", "0")
        self.people = json.loads(self._run("-m", "tests.bench.filling", *arguments))

    def open_everything(self) -> dict[str, dict[str, Any]]:
        """Give a student one of everything; list each role's pages and the cookies for them."""
        found = self._run("-m", "tests.bench.opening", self.people["ending"])
        return dict(json.loads(found))

    @property
    def url(self) -> str:
        """The address that a browser opens."""
        return f"http://{HOST}:{self.port}"

    def start(self) -> None:
        """Start the server and wait until it answers."""
        # As it is served; but no process is replaced in the middle of it.
        command = ["-m", "gunicorn", "--config", "python:config.gunicorn", "--max-requests", "0"]
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(
                [sys.executable, *command, "config.wsgi"],
                cwd=tree.TOP,
                env=self._environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        until = time.monotonic() + PATIENCE_SECONDS
        while once(self.port, Ask(path="/healthz", headers={})).errors:
            if self._process.poll() is not None or time.monotonic() > until:
                raise RuntimeError(self._log.read_text())
            time.sleep(0.05)

    def stop(self) -> None:
        """Stop the server that this object started."""
        if self._process is not None:
            os.killpg(self._process.pid, signal.SIGTERM)
            self._process.wait()
            self._process = None

    def start_anew(self) -> None:
        """Stop it and start it: two starts of the same server differ by some hundredths."""
        self.stop()
        self.start()

    def worker_megabytes(self) -> list[float]:
        """Say how much memory each worker takes up, without what it shares with another."""
        assert self._process is not None
        children = Path(f"/proc/{self._process.pid}/task/{self._process.pid}/children")
        return [_resident(int(pid)) for pid in children.read_text().split()]

    def teacher(self, path: str, *, count: bool = False) -> Ask:
        """Ask for a page as the teacher."""
        name, value = self.people["session"]
        headers = {"Cookie": f"{name}={value}", "Accept-Encoding": "gzip"}
        return Ask(path=path, headers=headers | ({"Count-Queries": "yes"} if count else {}))

    def phone(self, number: int, path: str, *, count: bool = False) -> Ask:
        """Ask for a page of a student's as that student's phone; {} stands for the student."""
        headers = {"Cookie": self._phone_cookie(number), "Accept-Encoding": "gzip"}
        return Ask(
            path=path.format(self.people["students"][number]),
            headers=headers | ({"Count-Queries": "yes"} if count else {}),
        )

    def check_in(self, number: int, *, count: bool = False) -> Ask:
        """File a new check-in for today, as a phone's outbox does."""
        now = time.time()
        fields = ANSWERS | {
            "key": str(uuid4()),
            "day": time.strftime("%Y-%m-%d", time.gmtime(now)),
            "done_at": time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime(now)),
        }
        headers = self._posting(self._phone_cookie(number))
        return Ask(
            method="POST",
            path=f"/practice/{self.people['students'][number]}/check-in",
            headers=headers | ({"Count-Queries": "yes"} if count else {}),
            body=urlencode(fields),
        )

    def insert(self) -> Ask:
        """Let the server write a check-in's row and do nothing else."""
        name, value = self.people["session"]
        return Ask(
            method="POST",
            path="/bench/insert",
            headers=self._posting(f"{name}={value}"),
            body=urlencode({"block": self.people["block"]}),
        )

    def _phone_cookie(self, number: int) -> str:
        return f"{self.people['phone_cookie']}={self.people['phones'][number]}"

    def _posting(self, cookie: str) -> dict[str, str]:
        token = "b" * 32
        return {
            "Cookie": f"{cookie}; {self.people['csrf_cookie']}={token}",
            "X-CSRFToken": token,
            "Accept": "application/json",
            "Content-Type": "application/x-www-form-urlencoded",
        }

    def _run(self, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, *arguments],
            cwd=tree.TOP,
            env=self._environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(done.stderr)
        return done.stdout


def _resident(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return 0.0
