"""A studio's file: everything goes out, comes in again equal, and nothing else gets in."""

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.demo import filling
from progress.demo.people import STUDIO_PUBLIC_ID
from progress.exports.studio_file import write_student, write_studio
from progress.models import CheckIn, LessonRating, SetAside
from progress.queries.file_parts import LEFT_OUT, PARTS, columns
from progress.services.bring_in import FileError, bring_in
from studio.models import AuditLine, Grant, Membership, Student, Studio, User
from studio.words import GrantState, Role
from tests import makers, tree

pytestmark = pytest.mark.django_db
PAGE = (tree.TOP / "docs" / "formats.md").read_text()
APPS = ("studio", "routines", "progress")
NO_STUDIOS = {"SetupToken": "opens the first page of an empty site and belongs to no studio"}


def exported(studio):
    return "".join(write_studio(studio, moment=timezone.now()))


def without_time(text):
    return {**json.loads(text), "exported_at": None}


def emptied():
    """Take every row out, as if this were a new database."""
    with scopes_disabled():
        for part in reversed(PARTS):
            part.model._default_manager.all().delete()


def a_full_studio():
    """A studio with a row of every kind, one of them of a refused phone, one set aside."""
    teacher = makers.a_teacher(role=Role.OWNER, name="Runa Ødegård")
    studio = makers.studio_of(teacher)
    makers.a_template(studio)
    student = makers.a_student(studio, name="Zoë 🎺 “x”\n<b>", teacher=teacher)
    block = makers.a_block(student, first_day=makers.today(studio) - timedelta(days=9))
    refused = makers.a_grant(student, state=GrantState.REFUSED).grant
    makers.a_grant(student)
    first = makers.a_check_in(
        student, block=block, day=block.first_day, grant=refused, words="= 1+1, \u2028"
    )
    moved = makers.a_check_in(student, block=block, day=block.first_day + timedelta(days=1))
    with scopes_disabled():
        SetAside.objects.create(check_in=first, moved_to=moved, by=teacher, made_at=timezone.now())
    makers.a_not_today(student, day=block.first_day + timedelta(days=3))
    makers.a_discomfort(student)
    makers.an_interruption(student)
    makers.a_decision(block, by=teacher)
    with scopes_disabled():
        LessonRating.objects.create(
            student=student, block=block, by=teacher, day=moved.day, filed_on=moved.day, attack=4
        )
        AuditLine.objects.create(
            studio=studio, moment=timezone.now(), by=teacher, kind="left", about="0" * 16
        )
    return studio


def test_every_model_of_a_studio_goes_along_or_says_why_not():
    known = {part.model for part in PARTS} | set(LEFT_OUT)
    ours = {model for app in APPS for model in apps.get_app_config(app).get_models()}

    assert {model.__name__ for model in ours - known} == set(NO_STUDIOS)


def test_every_column_goes_along_or_says_why_not():
    for part in PARTS:
        there = {each.name for each in part.model._meta.concrete_fields if not each.primary_key}
        gone = {column.field.name for column in columns(part)} | set(part.left_out)

        assert there - gone <= {"studio"}
        assert set(part.left_out) <= there


def test_nothing_that_opens_a_door_is_a_column():
    named = {column.name for part in PARTS for column in columns(part)}

    assert [name for name in named if "secret" in name or "token" in name or "pass" in name] == []


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_the_page_of_formats_lists_every_column(part):
    (line,) = [each for each in PAGE.splitlines() if each.startswith(f"| `{part.name}` |")]

    assert [name.strip(" `") for name in line.split("|")[2].split(",")] == [
        column.name for column in columns(part)
    ]


def test_a_studio_comes_back_equal_but_for_the_time():
    studio = a_full_studio()
    before = exported(studio)
    empty = {part.name for part in PARTS if not json.loads(before)[part.name]}
    assert empty == set()
    emptied()

    made = bring_in(StringIO(before))

    assert without_time(exported(made.studio)) == without_time(before)


def test_the_demo_comes_back_equal():
    demo = filling.fill(seed=8, moment=timezone.now())
    before = exported(demo.studio)
    emptied()

    bring_in(StringIO(before))

    after = exported(Studio.objects.get(public_id=STUDIO_PUBLIC_ID))
    assert without_time(after) == without_time(before)
    assert len(json.loads(after)["check_ins"]) > 500


def test_what_a_refused_phone_filed_stays_set_aside():
    before = exported(a_full_studio())
    emptied()

    bring_in(StringIO(before))

    with scopes_disabled():
        assert CheckIn.objects.filter(grant__state=GrantState.REFUSED).count() == 1


def test_no_phone_and_no_password_works_after_the_move():
    studio = a_full_studio()
    before = exported(studio)
    emptied()

    bring_in(StringIO(before))

    with scopes_disabled():
        assert not Grant.objects.filter(ended_at__isnull=True).exists()
        assert set(Grant.objects.values_list("secret_hash", flat=True)) == {""}
    assert not User.objects.get().has_usable_password()


def test_a_studio_that_is_here_already_is_refused_in_words():
    before = exported(a_full_studio())

    with pytest.raises(FileError, match="holds that studio already"):
        bring_in(StringIO(before))


def test_somebody_elses_studio_is_not_in_the_file():
    studio = a_full_studio()
    stranger = makers.a_student(makers.a_studio(name="Other"), name="Stranger")
    makers.a_block(stranger)

    assert "Stranger" not in exported(studio)


def spoil(text, change):
    document = json.loads(text)
    change(document)
    return json.dumps(document)


def put(part, column, value, /):
    return lambda document: document[part][0].update({column: value})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.update(version=2), "version 2"),
        (lambda d: d.update(version=True), "version True"),
        (lambda d: d.update(format="filar-student"), "no studio’s file"),
        (lambda d: d.update(extra=[]), "'extra' is not known"),
        (lambda d: d.pop("blocks"), "'blocks' is missing"),
        (lambda d: d.update(blocks={}), "blocks is not a list"),
        (lambda d: d.update(studio=[]), "exactly one"),
        (lambda d: d.update(studio=d["studio"] * 2), "exactly one"),
        (lambda d: d["memberships"].clear(), "nobody owns"),
        (lambda d: d["students"].append(3), "students, row 2: is not an object"),
        (put("students", "is_admin", "yes"), "is_admin"),
        (put("students", "name", ""), "name"),
        (put("students", "name", "x" * 81), "name"),
        (put("students", "name", "a\0b"), "no database keeps"),
        (put("students", "name", "\ud800"), "no database keeps"),
        (put("students", "instrument", "kazoo"), "instrument"),
        (put("students", "lesson_day", 7), "rule"),
        (put("students", "lesson_day", "1"), "not a whole number"),
        (put("students", "lesson_day", 1.0), "not a whole number"),
        (lambda d: d["students"][0].update(lesson_day=True), "not a whole number"),
        (put("students", "lesson_day", 10**30), "lesson_day"),
        (put("students", "child", 1), "true or false"),
        (put("students", "teacher", "nobody@example.org"), "no row of this file"),
        (put("students", "id", "../../x"), "id"),
        (put("students", "made_at", "2026-01-01T10:00:00"), "without a zone"),
        (put("students", "made_at", "0001-01-01T00:00:00+23:00"), "made_at"),
        (put("studio", "time_zone", "Moon/Base"), "time_zone"),
        (put("studio", "time_zone", "../../etc/passwd"), "time_zone"),
        (put("blocks", "weekdays_off", [0, 1, 2, 3, 4, 5, 6]), "seven days"),
        (put("blocks", "weekdays_off", "07"), "weekdays_off"),
        (put("blocks", "first_day", "9999-12-31"), "blocks, row 1"),
        (put("versions", "dynamics", "louder"), "Dynamics"),
        (put("versions", "hold", 99), "Hold 99"),
        (put("check_ins", "attack", 6), "rule"),
        (put("check_ins", "trouble", ["everywhere"]), "trouble"),
        (put("check_ins", "completed", 1e999), "is not a number"),
        (put("check_ins", "key", "no key"), "key"),
        (put("decisions", "seen", []), "seen"),
        (put("decisions", "seen", {"probability": "high"}), "seen"),
        (put("decisions", "seen", {"a": "x" * 30_000}), "longer"),
        (lambda d: d["students"].append(d["students"][0]), "rule"),
    ],
)
def test_a_spoiled_file_is_refused_in_one_line_and_nothing_is_written(change, words):
    before = exported(a_full_studio())
    emptied()

    with pytest.raises(FileError) as refused:
        bring_in(StringIO(spoil(before, change)))

    assert words in str(refused.value)
    assert "\n" not in str(refused.value)
    assert not Studio.objects.exists()
    assert not User.objects.exists()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "null",
        "{",
        "MusicXML",
        "[" * 100_000,
        '{"a": NaN}',
        '{"a": 1, "a": 2}',
        "9" * 9999,
    ],
)
def test_what_is_no_file_of_a_studio_is_refused(text):
    with pytest.raises(FileError, match="Nothing was brought in"):
        bring_in(StringIO(text))


def test_a_file_that_breaks_off_anywhere_brings_nothing_in():
    before = exported(a_full_studio())
    emptied()

    for length in range(0, len(before) - 3, max(1, len(before) // 40)):
        with pytest.raises(FileError):
            bring_in(StringIO(before[:length]))

    assert not Studio.objects.exists()


def test_rows_of_two_students_cannot_be_mixed():
    studio = a_full_studio()
    other = makers.a_student(studio, name="Ari")
    before = exported(studio)
    emptied()
    mixed = spoil(before, put("check_ins", "student", other.public_id))

    with pytest.raises(FileError, match="another student"):
        bring_in(StringIO(mixed))


def test_the_copy_of_one_student_holds_nobody_else_and_no_teachers_address():
    studio = a_full_studio()
    makers.a_block(makers.a_student(studio, name="Ari"))
    with scope(studio=studio):
        student = Student.objects.exclude(name="Ari").get()

    copy = "".join(write_student(student, moment=timezone.now()))

    document = json.loads(copy)
    assert document["format"] == "filar-student"
    assert len(document["check_ins"]) == 2
    assert "Ari" not in copy
    assert "Runa Ødegård" in copy
    assert "@example.org" not in copy


def test_the_commands_write_a_file_and_bring_it_in(tmp_path):
    studio = a_full_studio()
    file = tmp_path / "studio.json"
    call_command("export_studio", studio.public_id, "--out", str(file))
    assert file.stat().st_mode & 0o077 == 0
    emptied()
    out = StringIO()

    call_command("import_studio", str(file), stdout=out)

    assert "changepassword" in out.getvalue()
    with scopes_disabled():
        assert Membership.objects.get().role == Role.OWNER


def test_a_file_that_is_there_is_not_written_over(tmp_path):
    studio, file = a_full_studio(), tmp_path / "kept.json"
    file.write_text("mine")

    with pytest.raises(CommandError, match="is there already"):
        call_command("export_studio", studio.public_id, "--out", str(file))

    assert file.read_text() == "mine"


@pytest.mark.parametrize("content", [b"\xff\xfe{\x00", b"PK\x03\x04", b""])
def test_the_command_says_in_one_line_what_is_wrong(tmp_path, content):
    file = tmp_path / "x.json"
    file.write_bytes(content)

    with pytest.raises(CommandError, match="Nothing was brought in") as refused:
        call_command("import_studio", str(file))

    assert refused.value.returncode == 2


def test_an_unknown_studio_is_refused_with_the_ones_there_are():
    studio = a_full_studio()

    with pytest.raises(CommandError, match=studio.public_id):
        call_command("export_studio", "no")
