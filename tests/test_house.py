"""The Makefile's scripts: what they refuse, and what they spare the second time."""

import os
import runpy
import socket
import subprocess
import sys

import pytest

from tests import tree

SERVE = tree.TOP / ".ci" / "serve.py"


def serve(kind: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """Start the server's script where it should stop before it serves."""
    return subprocess.run(
        [sys.executable, SERVE, kind],
        env={**os.environ, **variables},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.fixture
def install(monkeypatch, tmp_path):
    """The installing script, with a project of two lock files in a temporary folder."""
    script = runpy.run_path(str(tree.TOP / ".ci" / "install.py"))
    (tmp_path / ".venv" / "bin").mkdir(parents=True)
    (tmp_path / ".venv" / "bin" / "python").touch()
    (tmp_path / "requirements.txt").write_text("mido==1.3.3 \\\n    --hash=sha256:00\n")
    (tmp_path / "requirements-test.txt").write_text(
        "mido==1.3.3 ; sys_platform == 'linux' \\\n    --hash=sha256:00\n"
        "ruff==0.17.6 \\\n    --hash=sha256:11\n"
    )
    elsewhere = script["main"].__globals__
    for name, path in (("TOP", ""), ("VENV", ".venv"), ("PYTHON", ".venv/bin/python")):
        monkeypatch.setitem(elsewhere, name, tmp_path / path)
    return script


def test_a_port_that_is_taken_is_said_in_one_line_with_what_to_type():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        number = other.getsockname()[1]

        done = serve("demo", PORT=str(number))

    assert done.returncode == 1
    assert done.stderr == f"Port {number} is taken. Type: PORT=8001 make demo\n"


@pytest.mark.parametrize("port", ["horn", "0", "65536", "-1", "8000.5", "²"])
def test_a_port_that_is_none_is_refused_in_words(port):
    done = serve("run", PORT=port)

    assert done.returncode == 1
    assert done.stderr == f"PORT={port}: write a number from 1 to 65535, such as 8001.\n"


def test_the_demo_takes_no_notice_of_a_real_studios_database(monkeypatch):
    monkeypatch.setenv("DATABASE_URL", "postgres://studio@localhost/real")
    script = runpy.run_path(str(SERVE))

    script["choose_database"]("demo")

    assert "DATABASE_URL" not in os.environ


def test_the_lasting_studio_has_a_file_of_its_own(monkeypatch, tmp_path):
    monkeypatch.setenv("DATABASE_URL", "")
    monkeypatch.setenv("FILAR_VAR", str(tmp_path))
    script = runpy.run_path(str(SERVE))

    script["choose_database"]("run")

    assert os.environ["DATABASE_URL"] == f"sqlite:///{tmp_path}/studio.sqlite3"


def test_a_lock_file_is_installed_once(install, tmp_path):
    lock = tmp_path / "requirements.txt"
    assert not install["is_there"](lock)

    install["stamp"](lock).write_text(install["digest"](lock))

    assert install["is_there"](lock)


def test_a_lock_file_that_has_changed_is_installed_again(install, tmp_path):
    lock = tmp_path / "requirements.txt"
    install["stamp"](lock).write_text(install["digest"](lock))

    lock.write_text(lock.read_text().replace("1.3.3", "1.3.4"))

    assert not install["is_there"](lock)


def test_what_came_with_the_tests_is_not_installed_again_for_the_demo(install, tmp_path):
    larger = tmp_path / "requirements-test.txt"

    install["stamp"](larger).write_text(install["digest"](larger))

    assert install["is_there"](tmp_path / "requirements.txt")


def test_the_demo_alone_is_not_enough_for_the_tests(install, tmp_path):
    lock = tmp_path / "requirements.txt"

    install["stamp"](lock).write_text(install["digest"](lock))

    assert not install["is_there"](tmp_path / "requirements-test.txt")


def test_a_python_without_its_venv_part_gets_the_command_to_type(install, monkeypatch):
    monkeypatch.setitem(install["main"].__globals__, "find_spec", lambda _name: None)

    with pytest.raises(SystemExit, match=r"Type: .*apt-get install -y python3-venv"):
        install["check_python"]()
