"""Killed in the middle of writing, the program has lost nothing that it has acknowledged.

A kill cannot show what a power cut does; for that the settings wait for the disk, which
`tests/test_databases.py` holds. The count of kills is common practice, no published source.
"""

import http.client
import json
import os
import signal
import threading
import time
from pathlib import Path
from random import Random

import pytest

from tests.keeping.served import PATIENCE_SECONDS, Served, faults_of

pytestmark = pytest.mark.battery
WRITERS = 4
LONGEST_SECONDS = 0.4
# Each phone writes in two turns: however fast a machine is, that stays below 60 an hour.
PHONES_FOR_A_TURN = WRITERS // 2


class Load:
    """Phones that check in one after the other; it remembers what was acknowledged."""

    def __init__(self, served: Served, turn: int) -> None:
        self.acknowledged: list[str] = []
        self.others: list[int] = []
        self.phones = [served.phone(turn * WRITERS + number) for number in range(WRITERS)]
        self.stop = threading.Event()
        self.threads = [threading.Thread(target=self._write, args=(one,)) for one in self.phones]

    def _write(self, phone) -> None:
        while not self.stop.is_set():
            try:
                key, status = phone.check_in()
            except (OSError, http.client.HTTPException):
                return  # the server is gone; nothing was acknowledged
            if status == 201:
                self.acknowledged.append(key)
            else:
                self.others.append(status)

    def __enter__(self) -> "Load":
        for one in self.threads:
            one.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self.stop.set()
        for one in self.threads:
            one.join()


def keys_kept(served: Served) -> list[str]:
    """Read every check-in's key by the program itself."""
    asked = (
        "import json, django; django.setup()\n"
        "from django_scopes import scopes_disabled; from progress.models import CheckIn\n"
        "with scopes_disabled():\n"
        "    print(json.dumps([str(k) for k in CheckIn.objects.values_list('key', flat=True)]))"
    )
    served.environment["DJANGO_SETTINGS_MODULE"] = "config.settings"
    done = served.command("-c", asked)
    assert done.returncode == 0, done.stderr
    found: list[str] = json.loads(done.stdout)
    return found


def line(where: str, seed: int, cases: int, acknowledged: list[str], back: list[float]) -> str:
    middle, longest = sorted(back)[len(back) // 2], max(back)
    return (
        f"kills on {where}, seed {seed}: {cases} kills, {len(acknowledged)} acknowledged, 0 lost, "
        f"serving again after {middle:.1f} s, at most {longest:.1f} s"
    )


def test_killed_on_sqlite_it_loses_nothing_acknowledged(
    serve, tmp_path: Path, is_battery, figures, seed
):
    cases, random = 200 if is_battery else 3, Random(seed)  # noqa: S311 - seeded on purpose
    served = serve(students=cases * PHONES_FOR_A_TURN)
    acknowledged: list[str] = []
    back = []

    for turn in range(cases):
        with Load(served, turn) as load:
            time.sleep(random.uniform(0.05, LONGEST_SECONDS))
            served.kill()
        acknowledged += load.acknowledged
        assert load.others == []
        back.append(served.start())
        assert faults_of(tmp_path / "studio.sqlite3") == "ok"

    kept = keys_kept(served)
    assert len(kept) == len(set(kept))
    assert set(acknowledged) <= set(kept)
    assert len(acknowledged) > cases
    figures.append(line("SQLite", seed, cases, acknowledged, back))


def test_killed_on_postgresql_server_and_database_lose_nothing_acknowledged(
    serve, cluster, is_battery, figures, seed
):
    cases, random = 60 if is_battery else 2, Random(seed)  # noqa: S311 - seeded on purpose
    served = serve(cluster.address, students=cases * PHONES_FOR_A_TURN)
    acknowledged: list[str] = []
    back = []

    for turn in range(cases):
        with Load(served, turn) as load:
            time.sleep(random.uniform(0.05, LONGEST_SECONDS))
            if turn % 2 == 0:
                kill_all_of(cluster)
            served.kill()
        acknowledged += load.acknowledged
        began = time.monotonic()
        if turn % 2 == 0:
            cluster.start()
        served.start()
        back.append(time.monotonic() - began)

    kept = keys_kept(served)
    assert len(kept) == len(set(kept))
    assert set(acknowledged) <= set(kept)
    assert len(acknowledged) > cases
    figures.append(line("PostgreSQL", seed, cases, acknowledged, back))


def kill_all_of(cluster) -> None:
    """Kill PostgreSQL's first process and every other one of its own."""
    first = cluster.pid()
    children = Path(f"/proc/{first}/task/{first}/children").read_text().split()
    for number in (first, *map(int, children)):
        try:
            os.kill(number, signal.SIGKILL)
        except ProcessLookupError:
            continue
    # A new server refuses to start while the number of the old one is still taken, and it is until
    # the system's first process has heard of its end.
    until = time.monotonic() + PATIENCE_SECONDS
    while any(Path(f"/proc/{number}").exists() for number in (first, *map(int, children))):
        assert time.monotonic() < until, "a killed PostgreSQL is still there"
        time.sleep(0.01)
