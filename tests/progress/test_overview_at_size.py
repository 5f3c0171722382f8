"""The overview of a full studio after two years: as many questions to the database as a small one.

Sixty students and 24 months are the most that this program is made for; at most 12 questions is a
budget of its own.
"""

import time
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import CheckIn, LessonRating
from routines.models import Block, BlockVersion
from routines.services.versions import OWN_COUNTS
from studio.models import Student, Studio, new_public_id
from tests import makers

pytestmark = [pytest.mark.django_db, pytest.mark.battery]

MOST_QUERIES = 12
SMALL, FULL = (3, 2), (60, 24)
FOR_EVERY_RUN = (8, 3)
MONTH = 28
EVERY_THIRD_IS_LEFT_OUT = 3
DAY = timedelta(days=1)


def months_of(student: Student, count: int, today: date) -> list[Block]:
    """Lay out months one after the other, the last of them running."""
    begun = [today - timedelta(days=7 + MONTH * number) for number in reversed(range(count))]
    return [
        Block(
            student=student, instrument=student.instrument, first_day=first, length_days=MONTH,
            weekdays_off=[6], variant=OWN_COUNTS, batch=new_public_id(),
            made_at=timezone.now(),
        )
        for first in begun
    ]  # fmt: skip


def fill(studio: Studio, students: int, months: int) -> int:
    """Give a studio so many students with so many months of practice; say how many check-ins."""
    today = makers.today(studio)
    people = [makers.a_student(studio, name=f"Student {number:02}") for number in range(students)]
    plan = makers.a_version(makers.a_block(people[0]), plan=makers.a_plan(), from_day=today)
    plan.block.delete()
    columns = {
        field.attname: getattr(plan, field.attname)
        for field in BlockVersion._meta.concrete_fields
        if field.attname not in {"id", "block_id", "from_day"}
    }
    blocks = Block.objects.bulk_create(
        [block for student in people for block in months_of(student, months, today)]
    )
    versions = BlockVersion.objects.bulk_create(
        [BlockVersion(block=block, from_day=block.first_day, **columns) for block in blocks]
    )
    rows = [
        CheckIn(
            student_id=version.block.student_id, block=version.block, version=version, key=uuid4(),
            day=version.from_day + number * DAY, done_at=timezone.now(),
            received_at=timezone.now(), attack=4, sound=4, evenness=3, release=4, effort=6,
            discomfort="none", source="phone",
        )
        for version in versions
        for number in range(MONTH)
        if number % EVERY_THIRD_IS_LEFT_OUT and version.from_day + number * DAY <= today
    ]  # fmt: skip
    CheckIn.objects.bulk_create(rows)
    LessonRating.objects.bulk_create(
        LessonRating(
            student_id=block.student_id, block=block, day=block.first_day, filed_on=block.first_day,
            attack=4, sound=4, evenness=4, release=4,
        )
        for block in blocks
    )  # fmt: skip
    return len(rows)


def overview_of(desk: Client) -> tuple[int, float]:
    """Open the overview; count its questions to the database and its seconds."""
    with CaptureQueriesContext(connection) as asked:
        began = time.perf_counter()
        assert desk.get("/overview").status_code == 200
    return len(asked), time.perf_counter() - began


def test_a_full_studio_after_two_years_takes_as_many_queries_as_a_small_one(is_battery, figures):
    found = {}
    for students, months in (SMALL, FULL if is_battery else FOR_EVERY_RUN):
        teacher = makers.a_teacher()
        with scopes_disabled():
            check_ins = fill(makers.studio_of(teacher), students, months)
        queries, seconds = overview_of(makers.signed_in(teacher))
        found[students] = queries
        figures.append(
            f"overview, {students} students, {months} months, {check_ins} check-ins: "
            f"{queries} queries, {seconds * 1000:.0f} ms"
        )

    assert len(set(found.values())) == 1, found
    assert max(found.values()) <= MOST_QUERIES
