"""What is done for a lasting studio is done for that one, never for the demo's invented people."""

import os
import re

import pytest

from tests import tree
from tests.test_settings import python

MAKEFILE = (tree.TOP / "Makefile").read_text()
FOR_A_STUDIO = ("backup", "verify", "restore", "letters", "nightly")
GUIDES = ("README.md", "docs/data.md")


@pytest.mark.parametrize("target", FOR_A_STUDIO)
def test_a_target_for_a_studio_works_on_the_one_that_make_run_serves(target):
    recipe = re.search(rf"^{target}:.*\n((?:\t.*\n)+)", MAKEFILE, re.M)

    assert recipe is not None
    assert "$(PYTHON) .ci/keep.py" in recipe[1]
    assert "$(MANAGE)" not in recipe[1]


def test_that_is_not_the_demos_database(tmp_path):
    done = python(".ci/keep.py", "migrate", "-v", "0", var=tmp_path)

    assert done.returncode == 0, done.stderr
    assert (tmp_path / "studio.sqlite3").exists()
    assert not (tmp_path / "filar.sqlite3").exists()


def test_a_timer_on_the_demo_deletes_no_recording_of_a_studio(tmp_path):
    sound = tmp_path / "recordings" / "abc.flac"
    sound.parent.mkdir()
    sound.touch()
    os.utime(sound, (0, 0))  # of no row that the demo has, and old
    assert python("manage.py", "migrate", "-v", "0", var=tmp_path).returncode == 0

    done = python("manage.py", "delete_old_recordings", var=tmp_path)

    assert done.returncode == 0, done.stderr
    assert sound.exists()
    assert python(".ci/keep.py", "migrate", "-v", "0", var=tmp_path).returncode == 0
    python(".ci/keep.py", "delete_old_recordings", var=tmp_path)
    assert not sound.exists()


def test_bringing_the_tables_up_to_date_takes_no_file_from_a_program_that_serves(tmp_path):
    given_out = tmp_path / "static" / "base.0f2c.css"
    given_out.parent.mkdir()
    given_out.write_text("of the release before")

    done = python(".ci/serve.py", "migrate", var=tmp_path)

    assert done.returncode == 0, done.stderr
    assert "first-run token" in done.stdout
    assert given_out.exists()


def test_a_setting_that_is_wrong_is_said_in_one_line(tmp_path):
    done = python(".ci/keep.py", "send_letters", var=tmp_path, FILAR_PROXIES="a house")

    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "FILAR_PROXIES" in done.stderr


@pytest.mark.parametrize("guide", GUIDES)
def test_no_guide_for_teachers_sends_them_to_the_demos_database(guide):
    assert "manage.py" not in (tree.TOP / guide).read_text()


@pytest.mark.parametrize("command", ["send_letters", "drop_old", "export_studio"])
def test_a_database_that_is_damaged_is_said_in_one_line(tmp_path, command):
    (tmp_path / "studio.sqlite3").write_bytes(b"brass " * 2000)

    done = python(".ci/keep.py", command, var=tmp_path)

    assert done.returncode == 1
    assert done.stderr == "The database does not answer: file is not a database\n"
