"""What a text of rows holds is what Django reads from the rows themselves, on either database.

What is expected comes from Django's own reading of the same rows.
"""

from datetime import UTC, date, datetime, timedelta, timezone
from uuid import UUID

import pytest
from django.db import connection
from django.db.models import Q
from django_scopes import scopes_disabled
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from progress.models import CheckIn, LessonRating
from progress.queries.day_of_each import DayOfEach
from progress.queries.written_rows import ModelReader, Reader, columns_of, texts, texts_in_two
from routines.models import Block
from studio.models import Discomfort
from tests import makers

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 20)
DAY = timedelta(days=1)
# All that quotes, separates or ends something in JSON or in a row of PostgreSQL.
ODD = "\"\\',(){}[]:\n\t\r %$;\u00e5\u266d\U0001f3ba\u2028NULLnull"
WORDS = st.text(st.sampled_from(ODD) | st.characters(exclude_categories=["Cs", "Cc"]), max_size=40)
SMALL = st.none() | st.integers(1, 5)
MOMENTS = st.datetimes(
    min_value=datetime(2000, 1, 1),  # noqa: DTZ001 - the zone comes with `timezones`
    max_value=datetime(2100, 1, 1),  # noqa: DTZ001
    timezones=st.integers(-12, 14).map(lambda hours: timezone(timedelta(hours=hours))),
)
CHECK_INS = st.fixed_dictionaries(
    {
        "key": st.uuids(),
        "day": st.dates(date(1999, 1, 1), date(2100, 1, 1)),
        "done_at": MOMENTS,
        "received_at": MOMENTS,
        "zone": WORDS,
        "utc_offset_minutes": st.none() | st.integers(-840, 840),
        "attack": SMALL,
        "sound": SMALL,
        "evenness": SMALL,
        "release": SMALL,
        "effort": st.none() | st.sampled_from((2, 4, 6, 8, 10)),
        "high_note": st.none() | st.integers(0, 127),
        "completed": st.none() | st.floats(0, 1),
        "seconds": st.none() | st.integers(0, 86_400),
        "trouble": st.none() | st.recursive(SMALL | st.booleans() | WORDS, st.lists, max_leaves=5),
        "words": WORDS,
    }
)
A_ROW = {"key": UUID(int=1), "day": TODAY, "done_at": datetime(2026, 11, 20, 18, tzinfo=UTC)}


def values(row):
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@example(rows=[A_ROW | {"words": "", "trouble": "", "completed": 5 / 6}])
@example(rows=[A_ROW | {"words": '","', "trouble": ['")('], "completed": 0.1 + 0.2}])
@example(rows=[A_ROW | {"words": "\\", "zone": '"', "trouble": {"a": None}, "completed": 5e-324}])
@given(rows=st.lists(CHECK_INS, min_size=1, max_size=4, unique_by=lambda row: row["key"]))
def test_check_ins_come_out_of_their_text_as_they_are(django_db_blocker, rows):
    del django_db_blocker
    with scopes_disabled():
        CheckIn.objects.all().delete()
        student = makers.a_student(makers.a_studio())
        block = makers.a_block(student, first_day=TODAY - 3 * DAY)
        version = block.versions.get()
        CheckIn.objects.bulk_create(
            CheckIn(
                **({"received_at": row["done_at"]} | row),
                student=student,
                block=block,
                version=version,
            )
            for row in rows
        )

        found = texts(CheckIn.objects.all(), columns_of(CheckIn))
        read = ModelReader(CheckIn, "default").made(found[student.pk])
        expected = list(CheckIn.objects.all())

    assert set(found) == {student.pk}
    as_read = sorted(map(values, read), key=lambda row: row["id"])
    assert as_read == sorted(map(values, expected), key=lambda row: row["id"])
    for one, other in zip(
        as_read, sorted(map(values, expected), key=lambda r: r["id"]), strict=True
    ):
        assert {name: type(value) for name, value in one.items()} == {
            name: type(value) for name, value in other.items()
        }


def test_every_kind_of_row_comes_out_of_its_text():
    with scopes_disabled():
        student = makers.a_student(makers.a_studio())
        block = makers.a_block(student, first_day=TODAY - 3 * DAY, weekdays_off=[5, 6])
        Discomfort.objects.create(
            student=student, key=UUID(int=2), day=TODAY, told_at=datetime.now(UTC), in_session=True
        )
        LessonRating.objects.create(
            student=student, block=block, day=TODAY, filed_on=TODAY, sound=3, note="a (b), c"
        )
        for model in (Block, Discomfort, LessonRating):
            text = texts(model.objects.all(), columns_of(model))[student.pk]
            (read,) = ModelReader(model, "default").made(text)
            assert values(read) == values(model.objects.get())


def test_two_columns_of_a_relation_stand_beside_the_row():
    with scopes_disabled():
        student = makers.a_student(makers.a_studio())
        block = makers.a_block(student, first_day=TODAY)
        version = block.versions.get()
        through = [
            *columns_of(Block, only=["id"]),
            *columns_of(type(version), through="versions__"),
        ]
        text = texts(Block.objects.all(), through)[student.pk]

    ((found, *of_a_version),) = Reader(through, "default").rows(text)
    assert found == block.pk
    assert of_a_version == list(values(version).values())


def test_rows_in_two_texts_are_those_of_one():
    student = makers.a_student(makers.a_studio())
    days = [date(2026, 1, 5) + timedelta(days=28 * number) for number in range(5)]
    for day in days:
        makers.a_block(student, first_day=day)
    columns = columns_of(Block, only=("first_day",))
    with scopes_disabled():
        whole = texts(Block.objects.all(), columns)
        for number, day in enumerate([*days, days[-1] + timedelta(days=1)]):
            these, others = texts_in_two(Block.objects.all(), columns, Q(first_day__gte=day))
            read = Reader(columns, "default").rows
            parts = [sorted(read(text.get(student.pk))) for text in (others, these)]

            assert parts == [[(one,) for one in days[:number]], [(one,) for one in days[number:]]]
            assert parts[0] + parts[1] == sorted(read(whole[student.pk]))


def test_nothing_is_read_where_nothing_is():
    assert Reader(columns_of(Block), "default").rows(None) == []


def test_each_student_s_own_day_is_asked_for():
    with scopes_disabled():
        studio = makers.a_studio()
        nor, ida, ole = (makers.a_student(studio, name=name) for name in ("Nor", "Ida", "Ole"))
        for student in (nor, ida, ole):
            block = makers.a_block(student, first_day=TODAY - 20 * DAY)
            for back in range(5):
                makers.a_check_in(student, block=block, day=TODAY - back * DAY)
        days = {nor.pk: TODAY - DAY, ida.pk: TODAY - 3 * DAY}

        found = CheckIn.objects.filter(day__gte=DayOfEach(days, "student_id"))

        assert found.filter(student=nor).count() == 2
        assert found.filter(student=ida).count() == 4
        assert found.filter(student=ole).count() == 0, "whoever is not named has no day"
    assert connection.vendor in {"sqlite", "postgresql"}
