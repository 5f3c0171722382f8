"""A student who is erased is gone: from every table, from the file's bytes, and from older copies.

The European data-protection regulation calls it erasure (Regulation (EU) 2016/679, article 17);
what local rules ask beyond that is for the teacher to find out.
"""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, models
from django_scopes import scopes_disabled

from progress.models import CheckIn
from studio import secrets
from studio.models import AuditLine, ErasedStudent, Letter, Student
from studio.services import erased_list, letters
from studio.services.erase import erase, erase_again
from studio.words import AuditKind
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
NAME = "Thistlewick"

pytestmark = pytest.mark.django_db


@pytest.fixture
def runa():
    return makers.a_teacher()


@pytest.fixture
def student(runa):
    """A child with something in every kind of row that can hold one."""
    child = makers.a_student(makers.studio_of(runa), name=NAME)
    makers.a_check_in(child, words=f"{NAME} was here")
    makers.a_grant(child)
    makers.an_offer(child)
    makers.a_discomfort(child)
    makers.an_interruption(child, note=f"{NAME} is away")
    return child


def everything() -> str:
    """All rows of all our tables, as one text."""
    ours = [
        model
        for app in ("studio", "routines", "progress")
        for model in apps.get_app_config(app).get_models()
    ]
    return "\n".join(str(row) for model in ours for row in model._base_manager.values())


def test_nothing_of_an_erased_student_is_in_any_table(student, runa):
    assert NAME in everything()
    assert student.public_id in everything()

    erase(student, by=runa, moment=NOW)

    assert NAME not in everything()
    assert student.public_id not in everything()


def test_another_student_stays_as_they_are(student, runa):
    other = makers.a_student(student.studio, name="Nor")
    makers.a_check_in(other)

    erase(student, by=runa, moment=NOW)

    with scopes_disabled():
        assert list(Student.objects.all()) == [other]
        assert CheckIn.objects.get().student == other


def test_the_record_of_changes_keeps_its_lines_and_says_erased(student, runa):
    with scopes_disabled():
        AuditLine.objects.create(
            studio=student.studio,
            moment=NOW,
            by=runa,
            kind=AuditKind.HANDED_OVER,
            about=student.public_id,
        )

    erase(student, by=runa, moment=NOW)

    with scopes_disabled():
        lines = list(AuditLine.objects.order_by("pk").values_list("kind", "about", "by"))
    assert lines == [("handed over", "erased", runa.pk), ("erased", "erased", runa.pk)]


def test_a_letter_to_a_teacher_that_names_the_student_goes_and_others_stay(student, runa):
    def monday(key: str, body: str) -> None:
        with scopes_disabled():
            letters.write(student.studio, key=key, to=runa.email, subject="", body=body, moment=NOW)

    monday("monday a", f"No news: Ada, {NAME}, Nor")
    monday("monday b", f"No news: {NAME}son")

    erase(student, by=runa, moment=NOW)

    with scopes_disabled():
        assert list(Letter.objects.values_list("key", flat=True)) == ["monday b"]


def test_the_list_holds_a_hash_and_neither_name_nor_id(student, runa):
    erase(student, by=runa, moment=NOW)

    line = ErasedStudent.objects.get()
    assert line.student_hash == secrets.hashed(student.public_id)
    assert (line.studio, line.at) == (student.studio.public_id, NOW)


def test_one_who_comes_back_with_an_older_copy_is_taken_out_again(student, runa):
    other = makers.a_student(student.studio, name="Nor")

    count = erase_again({secrets.hashed(student.public_id)})

    assert count == 1
    assert NAME not in everything()
    with scopes_disabled():
        assert list(Student.objects.all()) == [other]


@pytest.mark.django_db(transaction=True)
def test_erasing_writes_the_list_beside_the_database_and_beside_the_backups(
    student, runa, settings, tmp_path
):
    settings.VAR_DIR, settings.BACKUPS = tmp_path, tmp_path / "backups"
    settings.BACKUPS.mkdir()

    erase(student, by=runa, moment=NOW)

    for folder in (tmp_path, settings.BACKUPS):
        file = folder / "erased_students.jsonl"
        assert json.loads(file.read_text()) == {
            "student_hash": secrets.hashed(student.public_id),
            "studio": student.studio.public_id,
            "at": NOW.isoformat(),
        }
        assert file.stat().st_mode & 0o777 == 0o600


@pytest.mark.django_db(transaction=True)
def test_a_list_that_cannot_be_written_keeps_nobody_from_being_erased(
    student, runa, settings, tmp_path, caplog
):
    settings.VAR_DIR, settings.BACKUPS = tmp_path / "nowhere", tmp_path

    erase(student, by=runa, moment=NOW)

    assert NAME not in everything()
    assert len((tmp_path / "erased_students.jsonl").read_text().splitlines()) == 1
    assert "list of erased students cannot be written" in caplog.text
    assert NAME not in caplog.text


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a file is SQLite's alone")
def test_the_bytes_of_the_database_hold_neither_name_nor_id(student, runa):
    file = Path(connection.settings_dict["NAME"])
    assert NAME.encode() in file.read_bytes()

    erase(student, by=runa, moment=NOW)

    assert NAME.encode() not in file.read_bytes()
    assert student.public_id.encode() not in file.read_bytes()


def test_a_line_that_was_cut_short_does_not_swallow_the_next(tmp_path):
    file = tmp_path / "list"
    first, second = [
        erased_list.Erased(student_hash=f"sha256${digit * 64}", studio="s", at=NOW.isoformat())
        for digit in "ab"
    ]
    erased_list.add_to(file, [first])
    file.write_text(file.read_text() + '{"student_ha')

    assert erased_list.add_to(file, [first, second]) == 1

    assert erased_list.read(file) == [first, second]


def test_every_row_that_leads_to_a_student_goes_with_the_student():
    """A reference that would keep a row without its student would keep words about the student."""
    kept = [
        field
        for model in apps.get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey) and field.related_model is Student
        if field.remote_field.on_delete is not models.CASCADE
    ]

    assert kept == []


def test_the_tests_write_nothing_beside_the_studios_own_database():
    assert Path(settings.VAR_DIR) != settings.BASE_DIR / "var"
