"""What is read no more of months long over never decides what is shown.

Each plan that is kept is held against one made of all the student's blocks, as Django reads them.
"""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from django_scopes import scope, scopes_disabled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from progress.queries import kept_months as kept
from progress.queries.kept_months import kept_months
from progress.queries.kept_plans import LATELY
from progress.queries.months import StudentMonth, studio_months
from routines.models import Block, BlockVersion
from routines.queries import row_broken_by, running, times_in_a_row
from studio.models import Student, Studio
from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
MONTH = 28 * DAY


class Months:
    """A studio of a student with some months, of which the newest may be running.

    Another student there plays one plan all the time, so that all of those months count.
    """

    def __init__(self, *holds: int, begun: int = 9) -> None:
        self.studio: Studio = makers.a_studio()
        self.today: date = makers.today(self.studio)
        self.student = makers.a_student(self.studio, name="Nor")
        other = makers.a_student(self.studio, name="Otto")
        self.others = [
            makers.a_block(other, first_day=self.today - 9 * DAY - number * MONTH)
            for number in range(6)
        ]
        kept.STORE.forget()
        # The newest first; each asks for the counts that are given for it.
        self.blocks = [
            makers.a_block(
                self.student,
                first_day=self.today - begun * DAY - number * MONTH,
                plan=makers.a_plan(self.student, hold=hold),
            )
            for number, hold in enumerate(holds)
        ]

    def look(self) -> StudentMonth:
        """Read the month with what is kept, and hold it against the one of all rows."""
        with scope(studio=self.studio):
            students = Student.objects.order_by("pk")
            both, whole = (read(students, self.today) for read in (kept_months, studio_months))
        names = ("block", "version", "follows", "reasons", "filed_days", "week", "is_ending")
        for one, other in zip(both, whole, strict=True):
            for name in names:
                assert getattr(one, name) == getattr(other, name), name
        return both[0]

    def what_is_kept(self) -> kept.Kept:
        """Find what is kept of the student."""
        return kept.STORE.known("default", self.today)[self.student.pk]


def test_of_months_before_another_plan_nothing_is_read():
    months = Months(8, 8, 12, *[8, 12] * 10)
    months.look()

    found = months.what_is_kept().plan

    assert (found.is_settled, found.older, found.plan.in_a_row) == (True, None, 2)
    assert months.look() is months.look()
    assert months.what_is_kept().plan is found
    with scopes_disabled():
        BlockVersion.objects.filter(block=months.blocks[-1]).update(hold=9)
        BlockVersion.objects.filter(block=months.others[-1]).update(hold=9)
    assert months.look() is months.look()
    assert months.what_is_kept().plan is found


@pytest.mark.parametrize(
    ("holds", "begun"),
    [((8,) * 12, 9), ((8, 12, *[8] * 6), 40), ((8,) * 4, 9), ((8,), 9), ((), 9)],
    ids=["one plan all year", "between two months", "four in a row", "the first month", "none"],
)
def test_where_older_months_count_all_of_them_are_read(holds, begun):
    months = Months(*holds, begun=begun)
    months.look()

    assert not months.what_is_kept().plan.is_settled
    assert months.look() is months.look()
    if months.blocks:
        with scopes_disabled():
            BlockVersion.objects.filter(block=months.blocks[-1]).update(hold=16)
        months.look()


def the_running_one_asks_the_same(months: Months) -> None:
    BlockVersion.objects.filter(block=months.blocks[0]).update(hold=12)


def the_running_one_is_gone(months: Months) -> None:
    Block.objects.filter(student=months.student, first_day__gte=months.today - LATELY).delete()


def the_running_one_ends(months: Months) -> None:
    months.student.block_set.filter(pk=months.blocks[0].pk).update(ended_on=months.today - 2 * DAY)


def the_one_before_asks_the_same(months: Months) -> None:
    BlockVersion.objects.filter(block__in=months.blocks[1:4]).update(hold=8)


def all_that_began_lately_is_replaced(months: Months) -> None:
    Block.objects.filter(first_day__gte=months.today - LATELY).update(
        ended_on=months.today - 2 * LATELY
    )


@pytest.mark.parametrize(
    "write",
    [
        the_running_one_asks_the_same,
        the_running_one_is_gone,
        the_running_one_ends,
        the_one_before_asks_the_same,
        all_that_began_lately_is_replaced,
    ],
)
def test_what_settles_a_plan_no_more_has_older_months_read_again(
    write: Callable[[Months], None], django_assert_num_queries
):
    months = Months(8, 12, 12, 12, 12, 12, 8)
    months.look()
    assert months.what_is_kept().plan.is_settled

    with scopes_disabled():
        write(months)

    with django_assert_num_queries(8), scope(studio=months.studio):  # as ever: no one more
        list(kept_months(Student.objects.order_by("pk"), months.today))
    for _ in range(3):
        months.look()


CHANGE = st.one_of(
    st.tuples(st.just("hold"), st.sampled_from([8, 12])),
    st.tuples(st.just("extra_days"), st.sampled_from([0, 5, 70, 300])),
    st.tuples(st.just("ended_on"), st.sampled_from([None, -1, 0, 10])),
    st.tuples(st.just("first_day"), st.integers(-60, 60)),
    st.tuples(st.just("delete"), st.none()),
    st.tuples(st.just("new"), st.integers(-40, 200)),
)


def changed(months: Months, which: int, what: str, value: int | None) -> None:
    """Write past all services: whoever wrote, the month is to be right."""
    found = list(Block.objects.filter(student=months.student).order_by("pk"))
    days = [block.first_day for block in found]
    if what == "new":
        if (day := months.today - (value or 0) * DAY) not in days:
            makers.a_block(months.student, first_day=day)
        return
    if not found:
        return
    block = found[which % len(found)]
    rows, moved = Block.objects.filter(pk=block.pk), block.first_day + (value or 0) * DAY
    if what == "delete":
        rows.delete()
    elif what == "hold":
        BlockVersion.objects.filter(block=block).update(hold=value)
    elif what == "first_day":
        rows.update(first_day=block.first_day if moved in days else moved)
    elif what == "ended_on" and value is None:
        # The database takes one block of a day that has not ended.
        rows.update(ended_on=None if days.count(block.first_day) == 1 else block.ended_on)
    else:
        rows.update(**{what: moved if what == "ended_on" else value})


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    holds=st.lists(st.sampled_from([8, 12]), min_size=1, max_size=9),
    begun=st.sampled_from([0, 9, 20, 35, 120]),
    changes=st.lists(st.tuples(st.integers(0, 8), CHANGE), min_size=1, max_size=6),
)
def test_whatever_becomes_of_months_what_is_shown_is_what_all_of_them_say(holds, begun, changes):
    months = Months(*holds, begun=begun)
    months.look()

    for which, (what, value) in changes:
        with scopes_disabled():
            changed(months, which, what, value)
        months.look()
        BlockVersion._base_manager.filter(block=months.others[which % 6]).update(hold=8 + which)
        months.look()


@given(
    holds=st.lists(st.sampled_from([8, 12]), min_size=1, max_size=7),
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_a_row_is_broken_by_the_first_month_before_it_that_asked_something_else(holds):
    months = Months(*holds)
    with scope(studio=months.studio):
        blocks = list(Block.objects.filter(student=months.student).order_by("-first_day"))
        block = running(blocks, months.today)
        assert block is not None

        broken_by, in_a_row = row_broken_by(blocks, block), times_in_a_row(blocks, block)

    alike = [hold == holds[0] for hold in holds]
    assert in_a_row == (alike.index(False) if False in alike else len(holds))
    assert broken_by == (months.blocks[in_a_row] if in_a_row < len(holds) else None)
