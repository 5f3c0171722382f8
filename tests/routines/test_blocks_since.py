"""Fewer blocks are read for a day than there are, and what is chosen of them is the same."""

from collections import defaultdict
from datetime import date, timedelta

import pytest
from django_scopes import scopes_disabled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from routines.engine.plan import LENGTH_LIMITS
from routines.models import Block, BlockVersion
from routines.queries import (
    blocks_of,
    blocks_of_each,
    came_about,
    last_over,
    next_to_come,
    running,
    versions_about,
    versions_of,
)
from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
BEGIN = date(2024, 1, 1)
BLOCK = st.fixed_dictionaries(
    {
        "pause": st.integers(0, 40),
        "length_days": st.integers(*LENGTH_LIMITS),
        "extra_days": st.one_of(st.just(0), st.integers(0, 20), st.integers(55, 300)),
        # Ended early, or before it began, or not at all.
        "ended": st.one_of(st.none(), st.integers(-1, 60)),
    }
)


def made(student, rows) -> date:
    """Make blocks one after the other, and give the first day after all of them."""
    day = BEGIN
    for row in rows:
        first = day + row["pause"] * DAY
        ended_on = None if row["ended"] is None else first + row["ended"] * DAY
        block = makers.a_block(
            student, first_day=first, length_days=row["length_days"],
            extra_days=row["extra_days"], ended_on=ended_on,
        )  # fmt: skip
        day = max(block.last_day, first) + DAY
    return day


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(rows=st.lists(BLOCK, min_size=1, max_size=6), where=st.floats(-0.1, 1.1))
def test_the_block_of_a_day_is_among_those_read_for_it(rows, where):
    student = makers.a_student(makers.a_studio())
    with scopes_disabled():
        end = made(student, rows)
        day = BEGIN + int((end - BEGIN).days * where) * DAY
        everything = blocks_of(student)

        since = blocks_of(student, since=day)
        about = blocks_of_each(versions_about(student, day)).get(student.pk, [])

    assert since == [block for block in everything if block.last_day >= day]
    about = [block for block in about if came_about(block)]
    for later in (day, day + 3 * DAY, day + 40 * DAY):
        assert running(since, later) == running(everything, later)
        assert next_to_come(about, later) == next_to_come(everything, later)
        chosen = running(everything, later) or last_over(everything, later)
        assert (running(about, later) or last_over(about, later)) == chosen


def test_months_long_over_are_left_in_the_database():
    student = makers.a_student(makers.a_studio())
    with scopes_disabled():
        end = made(student, [{"pause": 0, "length_days": 28, "extra_days": 0, "ended": None}] * 24)

        about = blocks_of_each(versions_about(student, end - DAY))[student.pk]

    assert len(about) <= 5


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(order=st.permutations(range(8)))
def test_blocks_come_newest_first_and_their_versions_oldest_first_however_rows_are_read(order):
    studio = makers.a_studio()
    with scopes_disabled():
        students = [makers.a_student(studio) for _ in range(2)]
        # Replaced on its own first day, so two begin on one day.
        days = [(BEGIN, None), (BEGIN + 30 * DAY, BEGIN + 29 * DAY), (BEGIN + 30 * DAY, None)]
        blocks = [
            makers.a_block(students[0], first_day=first, ended_on=ended) for first, ended in days
        ] + [makers.a_block(students[1], first_day=BEGIN + 7 * DAY)]
        for block, later in ((blocks[0], 9), (blocks[0], 5), (blocks[2], 3), (blocks[3], 2)):
            plan = makers.a_plan(block.student, tempo=66 + later)
            makers.a_version(block, plan=plan, from_day=block.first_day + later * DAY)
        made = list(versions_of([student.pk for student in students]))
        rows: dict[int, list[BlockVersion]] = defaultdict(list)

        found = blocks_of_each(made[number] for number in order)

        for version in BlockVersion.objects.order_by("from_day"):
            rows[version.block_id].append(version)
        expected = Block.objects.order_by("-first_day", "-pk")
        assert len(made) == len(order)
        assert list(found[students[0].pk]) == list(expected.filter(student=students[0]))
        assert list(found[students[1].pk]) == list(expected.filter(student=students[1]))
        for block in (*found[students[0].pk], *found[students[1].pk]):
            assert list(vars(block)["version_rows"]) == rows[block.pk]
