"""A decision is whole or not at all: the process killed anywhere, two screens at once."""

import os
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.db import connection, connections
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.choices import Choice
from progress.models import Decision
from progress.services.decisions import DecisionError, Verdict, decide, undo_decision
from routines.models import Block, BlockVersion
from routines.queries import version_on
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
KILLED = 9
RACES = 200


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher()


def an_ended_block(teacher, name="Nor"):
    student = makers.a_student(makers.studio_of(teacher), name=name)
    first = makers.today(student.studio) - timedelta(days=28)
    return makers.a_block(student, first_day=first)


def a_verdict(block, teacher, choice=Choice.REPEAT):
    return Verdict(
        choice=choice,
        by=teacher,
        moment=timezone.now(),
        today=makers.today(block.student.studio),
        key=uuid4(),
        seen={"outcome": "keep going"},
        plan=version_on(block, block.last_day).plan,
    )


class KilledAt:
    """Ends the process, as a power cut would, before or after its nth statement."""

    def __init__(self, number: int, *, after: bool) -> None:
        self.number, self.after, self.seen = number, after, 0

    def __call__(self, execute, sql, params, many, context):
        self.seen += 1
        if self.seen == self.number and not self.after:
            os._exit(KILLED)
        result = execute(sql, params, many, context)
        if self.seen == self.number:
            os._exit(KILLED)
        return result


def in_a_process_of_its_own(work, killed_at) -> int:
    """Run in a child that is killed on the way, and give its exit status."""
    connections.close_all()
    child = os.fork()
    if child == 0:
        try:
            with connection.execute_wrapper(killed_at):
                work()
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def whole(teacher) -> bool:
    """Say whether a decision stands with its block; anything in between is neither."""
    made = list(Decision.objects.filter(undone_at=None))
    blocks = Block.objects.count()
    assert BlockVersion.objects.count() == blocks
    assert (len(made), blocks) in {(0, 1), (1, 2)}
    assert all(one.next_block is not None for one in made)
    return bool(made)


def statements_of(work) -> int:
    """Count what reaches the database, as the wrapper of the other process will count it."""
    counted = KilledAt(0, after=False)
    with connection.execute_wrapper(counted):
        work()
    return counted.seen


def test_a_process_killed_anywhere_in_a_decision_leaves_all_of_it_or_nothing(teacher):
    block = an_ended_block(teacher)
    count = statements_of(lambda: decide(block, a_verdict(block, teacher)))
    undo_decision(Decision.objects.get(), moment=timezone.now())
    points = [(number, after) for number in range(1, count + 1) for after in (False, True)]

    for number, after in points:
        status = in_a_process_of_its_own(
            lambda: decide(block, a_verdict(block, teacher)), KilledAt(number, after=after)
        )
        assert status == KILLED, (number, after)
        assert not whole(teacher), (number, after)
    assert len(points) >= 24, len(points)

    # Not killed on the way, the same process writes all of it.
    assert (
        in_a_process_of_its_own(
            lambda: decide(block, a_verdict(block, teacher)), KilledAt(10_000, after=True)
        )
        == 0
    )
    assert whole(teacher)


def test_a_process_killed_anywhere_in_taking_back_leaves_the_decision_or_nothing(teacher):
    block = an_ended_block(teacher)
    decision = decide(block, a_verdict(block, teacher))
    count = statements_of(lambda: undo_decision(decision, moment=timezone.now()))
    decision = decide(block, a_verdict(block, teacher))

    for number in range(1, count + 1):
        work = lambda: undo_decision(decision, moment=timezone.now())  # noqa: E731
        assert in_a_process_of_its_own(work, KilledAt(number, after=True)) == KILLED
        assert whole(teacher), number


def test_two_screens_at_once_never_make_two_blocks(teacher):
    ends = []
    for number in range(RACES):
        block = an_ended_block(teacher, name=f"Nor {number}")
        start = Barrier(2)

        def screen(choice, block=block, start=start):
            try:
                with scopes_disabled():
                    start.wait(timeout=10)
                    return decide(block, a_verdict(block, teacher, choice)).choice
            except DecisionError as error:
                return str(error)
            finally:
                connection.close()

        with ThreadPoolExecutor(2) as screens:
            said = list(screens.map(screen, (Choice.REPEAT, Choice.MOVE_ON)))
        ends.append(sorted("told" if "another screen" in one else "won" for one in said))
        assert Block.objects.filter(student=block.student).count() == 2

    assert ends == [["told", "won"]] * RACES
    assert Decision.objects.count() == RACES
