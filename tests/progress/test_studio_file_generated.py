"""Generated studios: whatever a teacher or a student may have typed comes back as it was."""

from datetime import UTC, date, datetime, time, timedelta
from io import StringIO

import pytest
from django.db import transaction
from django.utils import timezone
from django_scopes import scopes_disabled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from progress.exports.studio_file import write_studio
from progress.services.bring_in import bring_in
from routines.engine.instruments import ids
from studio.words import GrantState, Role
from tests import makers
from tests.progress.test_studio_file import emptied, without_time

pytestmark = pytest.mark.django_db
LETTERS = some.characters(exclude_categories=["Cs"], exclude_characters="\0")
MOMENTS = some.datetimes(datetime(2020, 1, 1), datetime(2040, 1, 1), timezones=some.just(UTC))  # noqa: DTZ001
A_DAY = date(2026, 3, 2)


def text(most, *, least=0):
    return some.text(LETTERS, min_size=least, max_size=most)


STUDENTS = some.fixed_dictionaries(
    {
        "name": text(80, least=1),
        "instrument": some.sampled_from(ids()),
        "child": some.booleans(),
        "group": text(80),
        "lesson_day": some.none() | some.integers(0, 6),
        "consent_how": text(120),
        "consent_on": some.none() | some.dates(date(1, 1, 1), date(9999, 12, 31)),
        "four_valves": some.none() | some.booleans(),
    }
)
RATING = some.none() | some.integers(1, 5)
CHECK_INS = some.fixed_dictionaries(
    {
        "attack": RATING,
        "release": RATING,
        "effort": some.sampled_from([None, 2, 4, 6, 8, 10]),
        "discomfort": some.sampled_from(["", "none", "mild", "pain"]),
        "completed": some.none() | some.floats(0, 1),
        "trouble": some.none() | some.lists(some.sampled_from(["low", "middle", "high"])),
        "words": text(500),
        "done_at": MOMENTS,
        "utc_offset_minutes": some.none() | some.integers(-900, 900),
        "phone": some.sampled_from([None, *GrantState]),
    }
)


@settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(
    name=text(80, least=1),
    ends=some.times(time(0), time(6)),
    people=some.lists(some.tuples(STUDENTS, some.lists(CHECK_INS, max_size=3)), max_size=3),
)
def test_a_generated_studio_comes_back_equal(name, ends, people):
    with transaction.atomic():
        teacher = makers.a_teacher(makers.a_studio(name=name, day_ends_at=ends), role=Role.OWNER)
        studio = makers.studio_of(teacher)
        for student, check_ins in people:
            lay_down(makers.a_student(studio, teacher=teacher, **student), check_ins)
        before = written(studio)
        emptied()

        made = bring_in(StringIO(before))

        assert without_time(written(made.studio)) == without_time(before)
        transaction.set_rollback(True)


def lay_down(student, check_ins):
    block = makers.a_block(student, first_day=A_DAY)
    for number, answers in enumerate(check_ins):
        told = dict(answers)
        state = told.pop("phone")
        grant = makers.a_grant(student, state=state).grant if state else None
        day = A_DAY + timedelta(days=number)
        makers.a_check_in(student, block=block, day=day, grant=grant, **told)


def written(studio):
    with scopes_disabled():
        return "".join(write_studio(studio, moment=timezone.now()))
