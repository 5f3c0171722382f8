"""A check-in that arrives while the teacher changes what is asked of the day."""

from uuid import uuid4

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import CheckIn
from progress.services.check_ins import file_check_in
from routines.models import BlockVersion
from routines.services.change import ChangeError, change_block
from tests import makers
from tests.at_once import ANSWERS, at_once

pytestmark = pytest.mark.django_db(transaction=True)
RACES = 25


def test_a_check_in_and_a_second_change_of_its_day_never_lose_each_other():
    teacher = makers.a_teacher()
    studio = makers.studio_of(teacher)
    for number in range(RACES):
        nor = makers.a_student(studio, name=f"Nor {number}")
        block, today = makers.a_block(nor), makers.today(studio)
        makers.a_version(block, plan=makers.a_plan(nor, hold=10), from_day=today)
        grant = makers.a_grant(nor).grant

        def checks_in(grant=grant, today=today):
            now = timezone.now()
            file_check_in(grant, key=uuid4(), day=today, done_at=now, moment=now, **ANSWERS)

        def changes(block=block, nor=nor, today=today):
            plan = makers.a_plan(nor, hold=12)
            try:
                change_block(block, plan, from_day=today, by=teacher, moment=timezone.now())
            except ChangeError as error:
                assert "has checked in for today already" in str(error)  # noqa: PT017 - either may be first

        at_once(studio, checks_in, changes)

    with scopes_disabled():
        assert CheckIn.objects.count() == RACES
        for check_in in CheckIn.objects.all():
            asked = BlockVersion.objects.filter(block=check_in.block).latest("from_day")
            assert check_in.version == asked
