"""What `deploy/` holds fits the program: its commands are there, its settings are known.

`systemd-analyze verify` is systemd's own check of a unit; where this computer has none, that one
test is left out and says so.
"""

import re
import shutil
import subprocess
from configparser import ConfigParser

import pytest
from django.core.management import get_commands

from tests import tree
from tests.test_docs import GUIDE

DEPLOY = tree.TOP / "deploy"
UNITS = sorted([*DEPLOY.glob("*.service"), *DEPLOY.glob("*.timer")])
EVERYTHING = {path.name: path.read_text() for path in DEPLOY.iterdir()}
WHOLE = "".join(EVERYTHING.values())
SYSTEMD = shutil.which("systemd-analyze")
PYTHON = "/srv/filar/.venv/bin/python"


def test_every_command_that_is_started_is_one_of_ours():
    started = set(re.findall(r"manage\.py (\w+)", WHOLE))

    assert started >= {"send_letters", "backup", "drop_old"}
    assert {name for name in started if get_commands().get(name) not in tree.APPS} == set()


def test_every_setting_is_one_that_the_guide_names():
    named = set(
        re.findall(r"\b(?:FILAR_[A-Z_]+[A-Z]|DATABASE_URL)\b", "".join(EVERYTHING.values()))
    )

    assert {name for name in named if f"`{name}`" not in GUIDE} == set()


@pytest.mark.parametrize("timer", sorted(DEPLOY.glob("*.timer")), ids=lambda path: path.stem)
def test_every_timer_has_its_service(timer):
    read = ConfigParser(strict=False)
    read.read(timer)

    assert timer.with_suffix(".service").exists()
    assert read["Timer"]["OnCalendar"]


@pytest.mark.skipif(SYSTEMD is None, reason="NOT TRIED: no systemd here")
@pytest.mark.parametrize("unit", UNITS, ids=lambda path: path.name)
def test_systemd_finds_nothing_wrong(unit, tmp_path):
    for one in UNITS:
        # The program is not installed here: a command that is there stands in for it.
        (tmp_path / one.name).write_text(one.read_text().replace(PYTHON, "/bin/true"))

    done = subprocess.run(
        [str(SYSTEMD), "verify", "--man=no", tmp_path / unit.name],
        capture_output=True,
        text=True,
        check=False,
    )

    assert [line for line in done.stderr.splitlines() if unit.name in line] == []


def test_the_proxy_passes_what_the_program_believes():
    for header in ("Host", "X-Forwarded-For", "X-Forwarded-Proto"):
        assert f"proxy_set_header {header}" in EVERYTHING["nginx.conf"]
    assert re.search(r"ssl_protocols\s+TLSv1\.2 TLSv1\.3;", EVERYTHING["nginx.conf"])


def test_the_image_takes_a_lock_file_that_is_there():
    asked = re.search(r"-r (requirements[\w-]*\.txt)", EVERYTHING["Dockerfile"])

    assert asked is not None
    assert (tree.TOP / asked[1]).exists()
