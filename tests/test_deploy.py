"""What `deploy/` holds fits the program: its commands are there, its settings are known.

`systemd-analyze verify` is systemd's own check of a unit; where this computer has none, that one
test is left out and says so.
"""

import re
import shutil
import subprocess
import urllib.request
from configparser import ConfigParser

import pytest
from django.core.management import get_commands
from django.test import RequestFactory

from tests import tree
from tests.test_docs import GUIDE

DEPLOY = tree.TOP / "deploy"
UNITS = sorted([*DEPLOY.glob("*.service"), *DEPLOY.glob("*.timer")])
EVERYTHING = {path.name: path.read_text() for path in DEPLOY.iterdir()}
WHOLE = "".join(EVERYTHING.values())
SYSTEMD = shutil.which("systemd-analyze")
PYTHON = "/srv/filar/.venv/bin/python"


def test_every_command_that_is_started_is_one_of_ours():
    started = set(re.findall(r"keep\.py (\w+)", WHOLE))

    assert started >= {"send_letters", "backup", "drop_old"}
    assert {name for name in started if get_commands().get(name) not in tree.APPS} == set()


def test_no_timer_works_on_the_demos_database():
    assert "manage.py" not in WHOLE


@pytest.mark.parametrize("name", ["filar-nightly.service", "compose.yaml"])
def test_every_night_all_of_make_nightly_is_done(name):
    recipe = re.search(r"^nightly:.*\n((?:\t.*\n)+)", (tree.TOP / "Makefile").read_text(), re.M)
    assert recipe is not None
    asked = re.findall(r"keep\.py (.+)", recipe[1])

    assert len(asked) == 3
    assert [one for one in asked if f".ci/keep.py {one}\n" not in EVERYTHING[name]] == []


def test_the_shell_of_the_containers_timers_is_well_formed():
    script = EVERYTHING["compose.yaml"].split("      - |\n")[1].split("\nvolumes:")[0]

    done = subprocess.run(
        ["/bin/sh", "-n", "-c", script.replace("$$", "$")],
        capture_output=True,
        text=True,
        check=False,
    )

    assert "send_letters" in script
    assert done.stderr == ""


def test_an_image_of_a_public_site_is_asked_for_its_health_in_its_own_name(monkeypatch, settings):
    settings.ALLOWED_HOSTS = ["studio.example.org"]
    (code,) = re.findall(r'HEALTHCHECK .*"-c", "(.+)"\]', EVERYTHING["Dockerfile"])
    asked: list[urllib.request.Request] = []
    monkeypatch.setenv("FILAR_ADDRESS", "https://studio.example.org/")
    monkeypatch.setattr(urllib.request, "urlopen", asked.append)

    exec(code, {})  # noqa: S102 - the image's own line

    host = asked[0].get_header("Host")
    assert asked[0].full_url == "http://127.0.0.1:8000/healthz"
    assert RequestFactory(headers={"host": str(host)}).get("/healthz").get_host() == host


def test_the_settings_of_the_example_can_be_read_by_a_shell_as_well_as_by_systemd():
    lines = EVERYTHING["filar.env.example"].splitlines()
    given = [line.removeprefix("# ") for line in lines if re.match(r"(# )?[A-Z_]+=", line)]

    assert len(given) > 8
    assert [line for line in given if re.search(r"[\s'\"$`&;]", line)] == []


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
