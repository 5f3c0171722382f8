"""Questions whose statement is written once, held against Django, which writes it each time."""

import gc
import threading
import weakref
from contextlib import nullcontext
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any
from uuid import UUID

import pytest
from django.db import IntegrityError, connection, connections, transaction
from django.db.models import BigIntegerField, CharField, DateField, DateTimeField, Q, UUIDField
from django.db.transaction import TransactionManagementError
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django_scopes import scope, scopes_disabled
from django_scopes.exceptions import ScopeError

from progress.models import CheckIn
from routines.models import BlockVersion
from routines.queries import versions_of
from routines.reach import may_reach, versions_reaching
from studio.limits import Limit, take
from studio.models import Grant, Student, Studio, Tries
from studio.prepared import Prepared, PreparedUpdate
from studio.queries import grants_held, in_use
from studio.words import GrantKind
from tests import makers

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 4)
NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
CALLED = Prepared(lambda name: Student.objects.filter(name=name), name=CharField())


def called(name: str) -> list[Student]:
    return CALLED.rows(name=name)


def what_stands_in(row: Any) -> Any:
    """Give all that is in a row and in the rows that were read with it."""
    if not hasattr(row, "_state"):
        return row
    read_along = {
        name: what_stands_in(other) for name, other in row._state.fields_cache.items() if other
    }
    return {name: value for name, value in vars(row).items() if name != "_state"} | read_along


QUESTIONS: dict[str, tuple[Any, dict[str, Any]]] = {
    "rows with those they lead to": (
        lambda name, day: (
            BlockVersion.objects.filter(block__student__name=name, from_day__lte=day)
            .select_related("block__student__studio")
            .order_by("from_day", "pk")
        ),
        {"name": CharField(), "day": DateField()},
    ),
    "columns": (
        lambda name, day: (
            BlockVersion.objects.filter(block__student__name=name, from_day__lte=day)
            .order_by("from_day", "pk")
            .values_list("pk", "from_day", "block__first_day", "block__student__name")
        ),
        {"name": CharField(), "day": DateField()},
    ),
    "one column": (
        lambda name, day: (
            BlockVersion.objects.filter(block__student__name=name, block__first_day__lte=day)
            .order_by("pk")
            .values_list("from_day", flat=True)
        ),
        {"name": CharField(), "day": DateField()},
    ),
}


@pytest.mark.parametrize("what", list(QUESTIONS))
def test_it_finds_what_django_finds(what, studio):
    ask, fields = QUESTIONS[what]
    prepared, chance = Prepared(ask, **fields), Random(20261130)  # noqa: S311
    names = ("Nor", "Sam", "O'Neil 100 %s")
    for name in names:
        student = makers.a_student(studio, name=name)
        for number in range(4):
            first_day = TODAY + timedelta(days=40 * number + chance.randrange(9))
            makers.a_block(student, first_day=first_day)

    with scope(studio=studio):
        for _ in range(40):
            asked = {
                "name": chance.choice((*names, "nobody")),
                "day": TODAY + timedelta(days=chance.randrange(-1, 200)),
            }
            expected = [what_stands_in(row) for row in ask(**asked)]

            assert [what_stands_in(row) for row in prepared.rows(**asked)] == expected


def test_values_are_written_as_in_a_column(nor):
    """Moments with their microseconds, and ids that SQLite keeps as text: equal means equal."""
    block = makers.a_block(nor, first_day=TODAY)
    prepared = Prepared(
        lambda key, at: CheckIn.objects.filter(key=key, done_at=at),
        key=UUIDField(),
        at=DateTimeField(),
    )
    chance, tick = Random(20261130), timedelta(microseconds=1)  # noqa: S311
    for _ in range(20):
        key, moment = UUID(int=chance.getrandbits(128)), NOON + tick * chance.randrange(10**12)
        row = makers.a_check_in(nor, block=block, key=key, day=TODAY, done_at=moment)

        with scopes_disabled():
            assert prepared.rows(key=key, at=moment) == [row]
            assert prepared.rows(key=key, at=moment + tick) == []
            assert prepared.rows(key=UUID(int=0), at=moment) == []


@pytest.mark.parametrize("seed", range(3))
def test_what_phones_ask_finds_what_django_finds(seed, studio):
    """The questions of the program itself, whose parts are tried beside what they are for."""
    chance = Random(seed)  # noqa: S311
    students = [makers.a_student(studio, name=f"Nor {number}") for number in range(4)]
    grants = []
    for student in students:
        grants.append(makers.a_grant(student, kind=chance.choice(list(GrantKind))).grant)
        for number in range(3):
            makers.a_block(student, first_day=TODAY + timedelta(days=50 * number))

    for _ in range(20):
        moment = timezone.now() + timedelta(days=chance.randrange(-10, 400))
        ids = [grant.public_id for grant in chance.sample(grants, chance.randrange(1, 5))]
        parents = chance.random() < 0.5
        which = Q(kind=GrantKind.PARENT) if parents else ~Q(kind=GrantKind.PARENT)
        with scopes_disabled():
            rows = Grant.objects.filter(which, in_use(moment), public_id__in=ids)
            expected = list(rows.order_by("student__name", "pk"))
            assert grants_held(ids, moment, parents=parents) == expected
        day, student = TODAY + timedelta(days=chance.randrange(-20, 400)), chance.choice(students)
        with scope(studio=studio):
            reaching = versions_of([student.pk]).filter(may_reach(day))
            assert set(versions_reaching(student, day)) == set(reaching)


def test_the_statement_is_written_once_and_is_the_one_that_django_writes(studio):
    asked: list[Any] = []

    def ask(name: Any) -> Any:
        asked.append(name)
        return Student.objects.filter(name=name).order_by("pk")

    prepared = Prepared(ask, name=CharField())
    with scope(studio=studio), CaptureQueriesContext(connection) as ours:
        for name in ("Nor", "Sam", "Ola"):
            prepared.rows(name=name)
    assert len(asked) == 1

    with scope(studio=studio), CaptureQueriesContext(connection) as djangos:
        for name in ("Nor", "Sam", "Ola"):
            list(ask(name))
    assert [one["sql"] for one in ours] == [one["sql"] for one in djangos]


def test_each_studio_finds_its_own_whoever_asked_first():
    studios = [makers.a_studio(name=name) for name in ("North Street Brass", "Harbour Brass")]
    own = [makers.a_student(studio, name="Nor") for studio in studios]

    for first in (0, 1, 0):
        with scope(studio=studios[first]):
            assert called("Nor") == [own[first]]
    with scopes_disabled():
        assert {student.pk for student in called("Nor")} == {student.pk for student in own}
    with scope(studio=studios[1]):
        assert called("Nor") == [own[1]]


def test_without_a_scope_it_is_refused_even_after_it_was_asked_in_one(studio, nor):
    with scope(studio=studio):
        assert called("Nor") == [nor]

    with pytest.raises(ScopeError):
        called("Nor")


def test_a_scope_of_several_studios_is_left_to_django(studio, nor):
    with scope(studio=[studio, makers.a_studio(name="Harbour Brass")]):
        assert called("Nor") == [nor]


def test_a_scope_of_a_studio_that_is_not_saved_is_refused_as_by_django(studio, nor):
    with scope(studio=studio):
        assert called("Nor") == [nor]

    with scope(studio=Studio(name="Harbour Brass")), pytest.raises(ValueError, match="saved"):
        called("Nor")


@pytest.mark.parametrize(
    "values", [{}, {"name": None}, {"name": "Nor", "who": "Sam"}, {"called": "Nor"}]
)
def test_values_that_make_another_question_are_refused_in_words(studio, values):
    with (
        scope(studio=studio),
        pytest.raises(ValueError, match=r"given: give each of name, and no None"),
    ):
        CALLED.rows(**values)


COUNTED = PreparedUpdate(
    lambda who: Tries.objects.filter(who=who),
    columns=("limit", "at"),
    who=CharField(),
    limit=CharField(),
    at=DateTimeField(),
)


@pytest.mark.parametrize("opened", ["in a scope", "in none", "without"])
def test_an_update_writes_these_columns_of_these_rows_and_counts_them(studio, opened):
    for who in ("one", "two"):
        Tries.objects.create(limit="before", who=who, used=3, at=NOON)
    later = NOON + timedelta(seconds=1)
    scopes = {"in a scope": scope(studio=studio), "in none": scopes_disabled()}

    with scopes.get(opened, transaction.atomic()):
        assert COUNTED.write(who="one", limit="after", at=later) == 1
        assert COUNTED.write(who="nobody", limit="after", at=later) == 0

    rows = Tries.objects.order_by("who").values_list("who", "limit", "used", "at")
    assert list(rows) == [("one", "after", 3, later), ("two", "before", 3, NOON)]


def test_an_update_stays_in_its_studio():
    renamed = PreparedUpdate(
        lambda name: Student.objects.filter(name=name),
        columns=("group",),
        name=CharField(),
        group=CharField(),
    )
    studios = [makers.a_studio(name=name) for name in ("North Street Brass", "Harbour Brass")]
    for studio in studios:
        makers.a_student(studio, name="Nor", group="")

    for studio in studios:
        with scope(studio=studio):
            assert renamed.write(name="Nor", group=studio.name) == 1

    with scopes_disabled():
        found = Student.objects.order_by("pk").values_list("group", flat=True)
        assert list(found) == ["North Street Brass", "Harbour Brass"]


def test_an_update_that_fails_leaves_no_transaction_to_be_kept(studio):
    """Nobody has two rows for one limit."""
    for who in ("one", "two"):
        Tries.objects.create(limit="before", who=who, used=3, at=NOON)
    renamed = PreparedUpdate(
        lambda limit: Tries.objects.filter(limit=limit),
        columns=("who",),
        limit=CharField(),
        who=CharField(),
    )

    with scope(studio=studio), transaction.atomic():
        with pytest.raises(IntegrityError):
            renamed.write(limit="before", who="one")

        assert transaction.get_rollback()
        transaction.set_rollback(True)


@pytest.mark.django_db(transaction=True)
def test_rows_are_locked_within_a_transaction_alone_however_often_it_is_asked(studio, nor):
    """SQLite locks no rows, as one transaction writes at a time; so there Django lets it pass."""
    locks = connection.features.has_select_for_update
    locked = Prepared(
        lambda name: Student.objects.select_for_update().filter(name=name), name=CharField()
    )

    for _ in range(2):
        with scope(studio=studio):
            with pytest.raises(TransactionManagementError) if locks else nullcontext():
                locked.rows(name="Nor")
            with transaction.atomic():
                assert locked.rows(name="Nor") == [nor]


def test_the_row_of_a_limit_is_held_from_when_it_is_read(studio):
    """So none of two tries at once is lost. SQLite holds no rows, and needs not."""
    ending = " FOR UPDATE" if connection.features.has_select_for_update else ")"
    a_limit = Limit(name="ten a minute", tries=10, seconds=60)
    take(a_limit, "somebody", moment=NOON)

    for opened in (transaction.atomic(), scope(studio=studio), scope(studio=studio)):
        with opened, CaptureQueriesContext(connection) as asked:
            assert take(a_limit, "somebody", moment=NOON) == 0

        read = [one["sql"] for one in asked if one["sql"].startswith("SELECT")]
        assert [one.endswith(ending) for one in read] == [True]


@pytest.mark.django_db(transaction=True)
def test_each_thread_asks_on_its_own_connection_and_none_is_kept(studio, nor):
    prepared = Prepared(lambda pk: Grant.objects.filter(pk=pk), pk=BigIntegerField())
    grant = makers.a_grant(nor).grant
    lines: list[weakref.ref[Any]] = []
    found: list[Any] = []

    def ask() -> None:
        with scopes_disabled(), CaptureQueriesContext(connection) as asked:
            found.append((prepared.rows(pk=grant.pk), len(asked)))
        lines.append(weakref.ref(connections["default"]))
        connection.close()

    for _ in range(3):
        thread = threading.Thread(target=ask)
        thread.start()
        thread.join()
    del thread
    gc.collect()

    assert found == [([grant], 1)] * 3
    assert [line() for line in lines] == [None] * 3


@pytest.fixture
def studio() -> Studio:
    return makers.a_studio()


@pytest.fixture
def nor(studio: Studio) -> Student:
    return makers.a_student(studio)
