"""How the commands of the terminal speak: one line, an exit status, and never a traceback."""

import zipfile
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection, transaction
from django.utils import timezone

from studio.commands import BAD_INPUT, KeepingCommand
from studio.models import Studio
from studio.services import backup_file, backup_postgresql, backups, standing
from tests import makers
from tests.test_settings import python

LOCKED = OperationalError("database is locked\nby another process")


def fails(*_given: object, **_named: object) -> None:
    raise LOCKED


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("restore",), "The following arguments are required: file. See: manage.py restore"),
        (("verify", "a.zip", "b.zip"), "Unrecognized arguments: b.zip. See: manage.py verify"),
        # No option is taken for another that only begins like it.
        (("restore", "a.zip", "--repl"), "Unrecognized arguments: --repl. See: manage.py restore"),
    ],
)
def test_what_a_command_does_not_know_is_said_to_a_program_as_an_error(typed, words):
    with pytest.raises(CommandError, match=words) as told:
        call_command(*typed)

    assert told.value.returncode == BAD_INPUT
    assert "\n" not in str(told.value)


def test_what_a_command_does_not_know_is_said_in_one_line_at_a_terminal(tmp_path):
    done = python(".ci/keep.py", "restore", "a.zip", "--now", var=tmp_path)

    assert done.returncode == BAD_INPUT
    assert done.stderr == "Unrecognized arguments: --now. See: manage.py restore --help\n"
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("name", "typed"),
    [("make", ("backup",)), ("verify", ("verify", "a.zip")), ("restore", ("restore", "a.zip"))],
)
def test_a_database_that_is_locked_is_said_in_one_line(monkeypatch, name, typed):
    monkeypatch.setattr(backups, name, fails)

    with pytest.raises(CommandError) as told:
        call_command(*typed, verbosity=0)

    assert str(told.value) == (
        "The database does not answer: database is locked by another process"
    )
    assert told.value.returncode == BAD_INPUT


def test_a_program_that_calls_a_command_gets_the_databases_own_error(monkeypatch):
    monkeypatch.setattr(standing, "what_is_wrong", fails)

    with pytest.raises(OperationalError) as told:
        call_command("check_database", verbosity=0)

    assert told.value is LOCKED


def test_a_command_that_was_given_no_work_is_not_taken_for_done():
    with pytest.raises(NotImplementedError):
        call_command(KeepingCommand(), verbosity=0)


def test_damage_is_said_by_the_copy_even_where_a_studio_is_expected(tmp_path):
    file = tmp_path / "studio.sqlite3"
    file.write_bytes(b"SQLite format 3\0" + b"brass" * 4000)
    file.with_name("studio.sqlite3.expected").write_text("A studio is kept here.")

    done = python(".ci/keep.py", "backup", "-v", "0", var=tmp_path)

    assert done.returncode == BAD_INPUT
    assert f"{file} cannot be copied: " in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert list((tmp_path / "backups").glob("*.zip")) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("kept")
def test_a_studio_that_comes_back_where_nothing_was_leaves_nothing_aside(
    tmp_path, settings, capsys
):
    makers.a_check_in(makers.a_student(makers.a_studio()))
    call_command("backup", verbosity=0)
    file = backup_file.newest(settings.BACKUPS)
    capsys.readouterr()

    if connection.vendor == "sqlite":
        fresh = tmp_path / "fresh"
        fresh.mkdir()
        done = python(".ci/keep.py", "restore", str(file), var=fresh)
        assert done.returncode == 0, done.stderr
        said = done.stdout
        assert sorted(path.name for path in fresh.glob("studio.sqlite3*")) == [
            "studio.sqlite3",
            "studio.sqlite3.expected",
        ]
    else:
        with transaction.atomic():
            backup_postgresql.empty()
        assert not standing.is_made()
        call_command("restore", str(file))
        said = capsys.readouterr().out
        assert Studio.objects.count() == 1

    assert "The studio is back as it was on" in said
    assert "Teachers sign in again, with the passwords of that day." in said
    assert "What was here before is kept" not in said


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("kept")
def test_what_a_restore_puts_aside_is_named(settings, capsys):
    makers.a_check_in(makers.a_student(makers.a_studio()))
    # An hour ago, as two backups of one second have one name.
    earlier = timezone.now() - timedelta(hours=1)
    file = backups.make(settings.BACKUPS, moment=earlier, say=lambda _words: None)

    call_command("restore", str(file), replace=True)

    said = capsys.readouterr().out
    named = said.partition("What was here before is kept: ")[2].splitlines()[0]
    if connection.vendor == "sqlite":
        assert ".before-" in named
    else:
        assert zipfile.is_zipfile(named)
