"""PostgreSQL plans what a phone asks a few times, and then no more, however much there is."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.db import connection
from django_scopes import scope

from progress.queries.today import today_of
from routines.models import Block, BlockVersion
from routines.queries import blocks_of
from studio.models import Student, Studio
from tests import makers

pytestmark = pytest.mark.django_db
STUDENTS, MONTHS, MONTH_DAYS = 60, 24, 28
# Plans made for the values given, before one for any is tried:
# https://www.postgresql.org/docs/15/sql-prepare.html
OF_ITS_OWN = 5


@pytest.fixture
def students() -> Iterator[list[Student]]:
    """Students who have played for two years, in the scope of their studio."""
    studio = makers.a_studio()
    with scope(studio=studio):
        found = [makers.a_student(studio, name=f"Nor {number}") for number in range(STUDENTS)]
        _two_years(studio, found)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        yield found


def _two_years(studio: Studio, students: list[Student]) -> None:
    like = makers.a_block(makers.a_student(studio, name="Sam"))
    version = BlockVersion.objects.get(block=like)
    blocks = [
        Block(student=student, instrument=like.instrument, made_at=like.made_at,
              first_day=like.first_day - timedelta(days=MONTH_DAYS * back), variant=like.variant,
              length_days=MONTH_DAYS, weekdays_off=[], batch=f"{student.pk:08d}{back:08d}")
        for student in students for back in range(MONTHS)
    ]  # fmt: skip
    columns = [field.attname for field in BlockVersion._meta.concrete_fields]
    same = {name: getattr(version, name) for name in columns if name not in {"id", "block_id"}}
    BlockVersion.objects.bulk_create(
        BlockVersion(**same | {"block_id": block.pk, "from_day": block.first_day})
        for block in Block.objects.bulk_create(blocks)
    )


def plans() -> list[tuple[str, int, int]]:
    """List what was read often, how often with a plan of its own, and how often without."""
    # The tests' own set-up reads content types as often.
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT statement, custom_plans, generic_plans FROM pg_prepared_statements "
            "WHERE custom_plans + generic_plans > 15 AND statement LIKE 'SELECT%%' "
            "AND statement NOT LIKE '%%django_content_type%%'"
        )
        return list(cursor.fetchall())


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite keeps no plans of a server's")
def test_of_two_years_too_what_a_phone_asks_is_planned_a_few_times_and_then_no_more(students):
    day = makers.today(students[0].studio)

    for student in students[:20]:
        assert today_of(student, day).blocks
        assert blocks_of(student, since=day)

    found = plans()
    # The day's five questions, and the one for a check-in.
    assert [own for _, own, _ in found] == [OF_ITS_OWN] * 6, found
