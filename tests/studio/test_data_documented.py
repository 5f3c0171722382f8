"""docs/data.md gives every column a class, and a student's copy holds all that is a child's.

Such a table is what ASVS 5.0.0, V14.1.1 and V14.1.2, asks for; that somebody gets a copy of all
that is known of them is article 15 of Regulation (EU) 2016/679. Both from memory.
"""

import json
import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from django.apps import apps
from django.db import models
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.exports.everything import student_text
from progress.models import KeptMonth, LessonRating, Recording, RecordingLeave, Report, SetAside
from progress.queries import tables
from progress.queries.tables import as_json, name_of
from studio.models import Letter
from tests import makers, tree

CLASSES = {"public", "studio", "child", "child-sensitive", "secret"}
OF_A_CHILD = {"child", "child-sensitive"}
APPS = ("studio", "routines", "progress", "sessions", "usersessions", "mfa")
TEXT = (tree.TOP / "docs/data.md").read_text()
Classes = dict[tuple[str, str], str]


def documented() -> list[tuple[str, str, list[str], str, str]]:
    part = TEXT.split("| rows | class | columns |", 1)[1]
    lines = [line for line in part.splitlines()[2:] if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return [
        (name.strip("`"), kind, [one.strip("` ") for one in columns.split(",")], kept, who)
        for name, kind, columns, kept, who in cells
    ]


def classes() -> Classes:
    return {(name, one): kind for name, kind, columns, _, _ in documented() for one in columns}


def columns() -> list[tuple[str, str]]:
    """Name every column of ours and of the sign-in's library, but the rows' own numbers."""
    return [
        (model.__name__, field.name)
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.concrete_fields
        if not isinstance(field, models.AutoField)
    ]


def test_every_column_has_one_class_a_time_and_readers():
    listed = [(name, one) for name, _, columns_, _, _ in documented() for one in columns_]

    assert sorted(listed) == sorted(columns())
    assert {kind for _, kind, *_ in documented()} <= CLASSES
    assert [row for row in documented() if not (row[3] and row[4])] == []


def test_what_opens_a_door_is_secret():
    named = ("password", "token", "secret_hash", "code_hash", "session_key", "session_data")
    doors = {key: kind for key, kind in classes().items() if any(n in key[1] for n in named)}

    assert len(doors) >= 9
    assert set(doors.values()) == {"secret"}


def forgotten(known: Classes, kept: tuple[tables.Table, ...]) -> set[tuple[str, str]]:
    """Name the columns of a child that the copy of a student does not hold."""
    held = {(t.model.__name__, f.name) for t in kept if t.student for f in t.fields}
    return {key for key, kind in known.items() if kind in OF_A_CHILD} - held


def test_a_students_copy_holds_every_column_that_is_a_childs():
    assert forgotten(classes(), (*tables.TABLES, *tables.OF_STUDENT_ALONE)) == set()


def test_a_column_that_the_copy_forgets_is_found():
    with_a_new_one = classes() | {("Student", "planted"): "child"}

    assert forgotten(with_a_new_one, (*tables.TABLES, *tables.OF_STUDENT_ALONE)) == {
        ("Student", "planted")
    }


def test_no_secret_leaves_with_any_copy():
    secret = {key for key, kind in classes().items() if kind == "secret"}
    leaves = {
        (table.model.__name__, field.name)
        for table in (*tables.TABLES, *tables.OF_STUDENT_ALONE, tables.STUDIO, tables.PEOPLE)
        for field in table.fields
    }

    assert secret & leaves == set()


def a_student_with_everything() -> Any:
    teacher = makers.a_teacher(name="Runa")
    nor = makers.a_student(makers.studio_of(teacher), teacher=teacher)
    today, moment = makers.today(nor.studio), timezone.now()
    old = makers.a_block(nor, first_day=today - timedelta(days=60), by=teacher)
    block = makers.a_block(nor, by=teacher)
    phone = makers.a_grant(nor)
    told = makers.a_check_in(nor, block=block, grant=phone.grant)
    moved = makers.a_check_in(nor, block=block, day=today - timedelta(days=1))
    makers.a_not_today(nor)
    makers.a_discomfort(nor, closed_by=teacher)
    makers.an_interruption(nor)
    LessonRating.objects.create(
        student=nor, block=block, by=teacher, day=today, filed_on=today, made_at=moment
    )
    makers.a_decision(old, by=teacher)
    SetAside.objects.create(check_in=told, moved_to=moved, by=teacher, made_at=moment)
    KeptMonth.objects.create(student=nor, month=today.replace(day=1), days=3, hurt_days=1)
    Report.objects.create(
        student=nor, first_day=today, last_day=today, words="w", by=teacher, changed_at=moment
    )
    RecordingLeave.objects.create(student=nor, by=teacher, changed_at=moment, asked_for=block)
    Recording.objects.create(
        student=nor, block=block, grant=phone.grant, key=UUID(int=7), day=today,
        received_at=moment, kept_until=today, size=1, sha256="0" * 64,
    )  # fmt: skip
    Letter.objects.create(
        studio=nor.studio, student=nor, key="k", to="a@example.org", subject="s", body="b",
        made_at=moment, next_try_at=moment,
    )  # fmt: skip
    return nor


def other_values(table: tables.Table, draw: random.Random) -> Iterator[tuple[str, Any]]:
    """Draw a value for every free column of a child's, so that none is there by chance."""
    for field in table.values:
        if classes()[table.model.__name__, field.name] not in OF_A_CHILD or field.choices:
            continue
        if isinstance(field, models.UUIDField):
            yield field.name, UUID(int=draw.getrandbits(128))
        elif isinstance(field, models.DateTimeField):
            yield (
                field.name,
                datetime(2020, 1, 1, tzinfo=UTC) + timedelta(seconds=draw.random() * 1e8),
            )
        elif isinstance(field, models.TextField) or (
            isinstance(field, models.CharField) and field.name in FREE
        ):
            yield field.name, f"{draw.randrange(10**9)} “é🎺”"


FREE = {"note", "words", "group", "consent_how", "message", "reason", "agreed_how", "subject"}


@pytest.mark.battery
@pytest.mark.django_db
def test_what_is_known_of_a_student_can_be_read_back_from_the_copy(is_battery, seed, figures):
    cases, compared = 20 if is_battery else 2, 0
    draw = random.Random(seed)  # noqa: S311 - invented values
    with scopes_disabled():
        nor = a_student_with_everything()
        for _ in range(cases):
            for table in KEPT:
                for row in rows_of(table, nor):
                    for name, value in other_values(table, draw):
                        rows_of(table, nor).filter(pk=row.pk).update(**{name: value})
            copy = json.loads("".join(student_text(nor, timezone.now())))
            compared += sum(compare(table, nor, copy[table.name]) for table in KEPT)
    figures.append(f"copies of a student: seed {seed}, {cases} cases, {compared} values, 0 missing")


KEPT = [t for t in (*tables.TABLES, *tables.OF_STUDENT_ALONE) if t.student]


def rows_of(table: tables.Table, nor: Any) -> models.QuerySet[Any]:
    return table.model._default_manager.filter(**{table.student: nor.pk}).order_by("pk")


def compare(table: tables.Table, nor: Any, read: list[dict[str, Any]]) -> int:
    """Hold every value of a child's against what stands in the copy; say how many these were."""
    of_a_child = [
        field.name
        for field in table.fields
        if classes()[table.model.__name__, field.name] in OF_A_CHILD
    ]
    there = [{name: said(row, name) for name in of_a_child} for row in rows_of(table, nor)]

    assert there, table.name
    assert [{name: row[name] for name in of_a_child} for row in read] == there
    return len(there) * len(of_a_child)


def said(row: Any, name: str) -> Any:
    """Say how a copy writes a value: JSON's own, or the name of the row it leads to."""
    value = getattr(row, name)
    if (row._meta.model_name, name) == ("grant", "state"):
        return "ended"  # no phone goes along
    return name_of(value) if isinstance(value, models.Model) else as_json(value)
