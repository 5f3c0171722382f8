"""What is done for a lasting studio is done for that one, never for the demo's invented people."""

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
