"""Several screens at once: a student's blocks and their versions are written one by one."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from routines.engine.plan import Month
from routines.models import Block, BlockVersion
from routines.queries import blocks_of
from routines.services import pauses
from routines.services.assign import IfRunning, Order, assign
from routines.services.change import change_block
from studio.words import InterruptionKind
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
DAY = timedelta(days=1)


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


def at_once(nor, doings: list[Callable[[], object]]) -> list[object]:
    """Do each in a thread of its own, in the studio's scope; what one raises is raised here."""

    def do(doing: Callable[[], object]) -> object:
        try:
            with scope(studio=nor.studio):
                return doing()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(doings)) as screens:
        return list(screens.map(do, doings))


def test_eight_changes_of_one_day_leave_one_version_of_it(teacher, nor):
    block, today = makers.a_block(nor), makers.today(nor.studio)

    def changes(hold: int) -> Callable[[], object]:
        plan = makers.a_plan(nor, hold=hold)
        return lambda: change_block(block, plan, from_day=today, by=teacher, moment=timezone.now())

    at_once(nor, [changes(hold) for hold in range(9, 17)])

    with scopes_disabled():
        rows = BlockVersion.objects.order_by("from_day").values_list("from_day", flat=True)
        assert list(rows) == [block.first_day, today]


def test_pauses_and_new_blocks_at_once_never_overlap_and_leave_every_end_right(teacher, nor):
    block, today = makers.a_block(nor), makers.today(nor.studio)

    def pauses_from(ahead: int) -> Callable[[], object]:
        return lambda: pauses.add_interruption(
            nor, kind=InterruptionKind.ILL, first_day=today + ahead * DAY,
            last_day=today + (ahead + 3) * DAY, note="", moment=timezone.now(),
        )  # fmt: skip

    order = Order(
        plans=[(nor, makers.a_plan(nor))], month=Month(first_day=block.last_day + DAY),
        by=teacher, moment=timezone.now(), if_running=IfRunning.AFTER,
    )  # fmt: skip

    def assigns() -> object:
        return assign(order)

    at_once(nor, [pauses_from(0), assigns, pauses_from(5), assigns, pauses_from(40)])

    with scopes_disabled():
        blocks = sorted(blocks_of(nor), key=lambda row: row.first_day)
        before = list(Block.objects.order_by("pk").values_list("extra_days", flat=True))
        pauses.follow_pauses(nor)
        after = list(Block.objects.order_by("pk").values_list("extra_days", flat=True))
    assert len(blocks) == 3
    assert all(one.last_day < other.first_day for one, other in pairwise(blocks))
    assert before == after
