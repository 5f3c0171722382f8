"""Whatever is written, the overview that remembers says what one says that remembers nothing.

The page is made twice: with what this process has kept, and from `studio_months`, which reads every
row as a model's object and keeps nothing.
"""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from threading import Event, Thread
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.translation import get_language, override
from django_scopes import scope, scopes_disabled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.sqlite.base import DatabaseWrapper as SQLiteWrapper
from progress.engine.check_in import NoSession
from progress.models import CheckIn, SetAside
from progress.queries import kept_months as kept
from progress.queries import read_rows
from progress.queries.kept_plans import WHOLE_BLOCK, WHOLE_VERSION, Blocks, KeptPlan, KeptPlans
from progress.queries.months import Plan, studio_months
from progress.services import check_ins, lessons
from progress.templatetags import rows
from progress.views import overview
from progress.views.row import kept_row_of
from routines.engine.plan import Month
from routines.queries import blocks_of, running, version_on
from routines.services import assign, change, pauses
from studio.models import Discomfort, Grant, Interruption, Student, Tries
from studio.services import pairing, people, wellbeing
from studio.words import HowMuch, InterruptionKind, Role
from tests import makers
from tests.bench import views as bench

pytestmark = pytest.mark.django_db
TOKEN = re.compile(rb"\b[A-Za-z0-9]{64}\b")  # against forged posts, another on every page
DAY = timedelta(days=1)
REFUSED = (ValueError,)  # what a service refuses in words


class World:
    """A studio of two students in the middle of a month, and what may be written about them."""

    def __init__(self) -> None:
        self.teacher = makers.a_teacher()
        self.studio = makers.studio_of(self.teacher)
        self.today = makers.today(self.studio)
        self.desk = makers.signed_in(self.teacher)
        self.count = 0
        for name in ("Nor", "Ida"):
            student = makers.a_student(self.studio, name=name)
            block = makers.a_block(student, first_day=self.today - 23 * DAY)
            phone = makers.a_grant(student).grant
            for number in range(1, 20, 3):
                makers.a_check_in(student, block=block, grant=phone, day=self.today - number * DAY)

    def write(self, name: str, who: int, number: int) -> None:
        """Write once; what a service refuses is no write."""
        with scope(studio=self.studio):
            student = Student.objects.order_by("pk")[who]
            try:
                WRITES[name](self, student, number)
            except REFUSED:
                return

    def page(self) -> bytes:
        """Ask for the overview."""
        return TOKEN.sub(b"", self.desk.get("/overview").content)


def file(world: World, student: Student, number: int) -> None:
    grant = Grant.objects.filter(student=student).order_by("pk")[0]
    world.count += 1
    check_ins.file_check_in(
        grant, key=UUID(int=world.count), day=world.today - number * DAY,
        done_at=timezone.now(), moment=timezone.now(), attack=1 + number % 5, sound=3,
        evenness=4, release=4, effort=(2, 4, 6, 8, 10)[number % 5],
        discomfort="none" if number % 3 else "mild",
    )  # fmt: skip


def a_row(rows, number):
    found = list(rows.order_by("pk"))
    if not found:
        message = "nothing there"
        raise ValueError(message)
    return found[number % len(found)]


def move(world: World, student: Student, number: int) -> None:
    row = a_row(CheckIn.objects.filter(student=student, moved_from=None), number)
    check_ins.move_check_in(
        row, day=world.today - (number % 6) * DAY, today=world.today, by=world.teacher,
        moment=timezone.now(),
    )  # fmt: skip


def take_out(world: World, student: Student, number: int) -> None:
    row = a_row(CheckIn.objects.filter(student=student, set_aside=None, moved_from=None), number)
    check_ins.remove_check_in(row, by=world.teacher, moment=timezone.now())


def put_back(_world: World, student: Student, number: int) -> None:
    check_ins.put_back_check_in(
        a_row(SetAside.objects.filter(check_in__student=student), number).check_in
    )


def not_today(world: World, student: Student, number: int) -> None:
    grant = Grant.objects.filter(student=student).order_by("pk")[0]
    day = world.today - (number % 4) * DAY
    if number % 2:
        check_ins.take_back_not_today(grant, day=day)
    else:
        reason = list(NoSession)[number % len(NoSession)]
        check_ins.tell_not_today(grant, day=day, reason=reason, moment=timezone.now())


def hurt(world: World, student: Student, number: int) -> None:
    if number % 2:
        row = a_row(Discomfort.objects.filter(student=student), number)
        wellbeing.close_discomfort(
            row, by=world.teacher, moment=timezone.now(), spoken_with_family=True
        )
        return
    world.count += 1
    wellbeing.open_discomfort(
        student, key=UUID(int=world.count), day=world.today - number * DAY,
        moment=timezone.now(), how_much=list(HowMuch)[number % len(HowMuch)],
    )  # fmt: skip


def pause(world: World, student: Student, number: int) -> None:
    first = world.today + (number - 8) * DAY
    if number % 3 == 0:
        kind = list(InterruptionKind)[number % len(InterruptionKind)]
        pauses.add_interruption(
            student, kind=kind, first_day=first, last_day=first + 3 * DAY, note="",
            moment=timezone.now(),
        )  # fmt: skip
        return
    row = a_row(Interruption.objects.filter(student=student), number)
    if number % 3 == 1:
        pauses.call_off_interruption(row)
    else:
        pauses.end_interruption(row, last_day=world.today, moment=timezone.now())


def rate(world: World, student: Student, number: int) -> None:
    lessons.rate_lesson(
        student, by=world.teacher, day=world.today - number * DAY, filed_on=world.today,
        note="", attack=1 + number % 5, sound=2, evenness=5, release=5,
    )  # fmt: skip


def change_plan(world: World, student: Student, number: int) -> None:
    block = running(blocks_of(student), world.today)
    assert block is not None
    plan = makers.a_plan(student, hold=4 + number, rest=8)
    change.change_block(
        block,
        plan,
        from_day=world.today + number % 2 * DAY,
        by=world.teacher,
        moment=timezone.now(),
    )


def hand_out(world: World, student: Student, number: int) -> None:
    last = blocks_of(student)[0]
    order = assign.Order(
        plans=[(student, version_on(last, world.today).plan)],
        month=Month(first_day=last.last_day + (1 + number) * DAY),
        by=world.teacher,
        moment=timezone.now(),
    )
    if number % 3 == 2 and last.first_day > world.today:
        assign.undo_assign(last.batch, moment=timezone.now())
    else:
        assign.assign(order)


def phone(world: World, student: Student, number: int) -> None:
    grant = Grant.objects.filter(student=student).order_by("pk")[0]
    if number % 2:
        pairing.refuse_phone(grant, moment=timezone.now(), by=world.teacher)
    else:
        pairing.take_back_refusal(grant, moment=timezone.now(), by=world.teacher)


def rename(_world: World, student: Student, number: int) -> None:
    if number % 2:
        people.change_student(student, group=f"Brass {number}")
    else:
        people.change_student(student, name=f"Nor {number}")


def settings_of(world: World, _student: Student, number: int) -> None:
    caution = ("strict", "bold", "usual")[number % 3]
    world.studio.refresh_from_db()
    # 25 hours apart, so that it is another day in one of them at any time.
    zone = ("Pacific/Kiritimati", "UTC", "Pacific/Pago_Pago")[number % 3]
    people.change_studio(world.studio, caution=caution, time_zone=zone)


def off_the_lists(world: World, student: Student, number: int) -> None:
    if number % 2 and student.archived_on is None:
        people.archive_student(student, day=world.today, moment=timezone.now())
    elif student.archived_on is not None:
        people.bring_back_student(student, moment=timezone.now())


WRITES: dict[str, Callable[[World, Student, int], None]] = {
    "file a check-in": file,
    "move one": move,
    "take one out": take_out,
    "put one back": put_back,
    "not today": not_today,
    "hurt, or closed": hurt,
    "a pause": pause,
    "rate a lesson": rate,
    "change the plan": change_plan,
    "hand out a block": hand_out,
    "refuse a phone, or not": phone,
    "rename": rename,
    "how careful": settings_of,
    "off the lists": off_the_lists,
}
A_WRITE = st.tuples(
    st.sampled_from(sorted(WRITES)), st.integers(0, 1), st.integers(min_value=0, max_value=14)
)


@pytest.fixture
def both_ways(monkeypatch):
    """Ask for the page with what is kept, and with nothing kept."""

    def ask(world: World) -> tuple[bytes, bytes]:
        remembered = world.page()
        with monkeypatch.context() as patch:
            patch.setattr(overview, "kept_months", studio_months)
            return remembered, world.page()

    return ask


FEW = max(1, settings().max_examples // 10)  # each case makes a studio and some pages


@settings(max_examples=FEW, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(writes=st.lists(A_WRITE, min_size=1, max_size=6))
def test_no_write_leaves_a_stale_overview(both_ways, writes):
    world = World()
    world.page()

    for write in writes:
        world.write(*write)

        remembered, anew = both_ways(world)
        assert remembered == anew, write


@pytest.mark.parametrize("name", sorted(WRITES))
def test_every_kind_of_write_reaches_the_page(name, both_ways):
    world = World()
    before, changed = world.page(), False

    for number in range(9):
        world.write(name, 0, number)
        remembered, anew = both_ways(world)
        assert remembered == anew
        changed = changed or anew != before

    assert changed or name == "put one back"  # nothing was taken out before


@pytest.fixture
def same_again():
    """A world in which Nor plays for the fourth month in a row what she played before."""
    world = World()
    with scopes_disabled():
        nor = Student.objects.order_by("pk")[0]
        running_one = nor.block_set.get()
        older = [
            makers.a_block(nor, first_day=running_one.first_day - months * 28 * DAY)
            for months in (1, 2, 3)
        ]
    return world, older


@pytest.mark.parametrize("which", [0, 1, 2])
def test_what_an_older_month_in_a_row_asked_is_read_again(same_again, both_ways, which):
    world, older = same_again
    before = world.page()

    with scopes_disabled():
        older[which].versions.update(hold=12)

    remembered, anew = both_ways(world)
    assert remembered == anew != before


def test_what_the_month_before_those_in_a_row_asked_is_read_again(same_again, both_ways):
    world, older = same_again
    with scopes_disabled():
        older[2].versions.update(hold=12)
        before = world.page()
        older[2].versions.update(hold=8)

    remembered, anew = both_ways(world)
    assert remembered == anew != before


def test_an_older_month_that_is_taken_out_is_missed(same_again, both_ways):
    world, older = same_again
    before = world.page()

    with scopes_disabled():
        older[0].delete()

    remembered, anew = both_ways(world)
    assert remembered == anew != before


def test_of_months_long_over_no_row_is_read_whole(same_again):
    world, older = same_again
    with scopes_disabled():
        nor = older[0].student
        for months in range(3, 20):
            plan = makers.a_plan(nor, hold=8 + months % 2, rest=4)
            makers.a_block(nor, plan=plan, first_day=older[0].first_day - months * 28 * DAY)
    world.page()

    with scope(studio=world.studio):
        kept.kept_months(Student.objects.order_by("pk"), world.today)
    found = kept.STORE.known("default", world.today)[nor.pk]

    assert found is not None
    whole = found.told[0]
    assert whole is not None
    assert [row.pk for row in Blocks(WHOLE_BLOCK, WHOLE_VERSION, "default").made(whole)] == [
        found.plan.plan.block.pk if found.plan.plan.block else None
    ]


def test_what_has_not_changed_is_not_made_anew():
    world = World()
    world.page()

    with scope(studio=world.studio):
        students = Student.objects.order_by("pk")
        one = kept.kept_months(students, world.today)
        world.write("rename", 0, 3)
        other = kept.kept_months(students, world.today)

    assert one[0] is not other[0]
    assert one[1] is other[1]


def test_another_day_makes_every_month_anew():
    world = World()

    with scope(studio=world.studio):
        students = Student.objects.order_by("pk")
        one = kept.kept_months(students, world.today)
        later = kept.kept_months(students, world.today + DAY)

    assert [month.day for month in later] == [world.today + DAY] * 2
    assert [month.day for month in one] == [world.today] * 2


def test_what_a_teacher_may_change_is_not_kept_for_who_may_not():
    world = World()
    with scopes_disabled():
        makers.a_student(world.studio, name="Without a block")
    cover = makers.signed_in(makers.a_teacher(studio=world.studio, role=Role.COVER))

    assert "Assign a block" in world.page().decode()
    assert "Assign a block" not in cover.get("/overview").content.decode()
    assert "Assign a block" in world.page().decode()


def test_two_of_one_name_are_told_apart_at_once(both_ways):
    world = World()
    with scopes_disabled():
        Student.objects.update(group="Tuesdays")
    world.page()

    with scopes_disabled():
        world.studio.student_set.filter(name="Ida").update(name="Nor", group="Fridays")

    remembered, anew = both_ways(world)
    assert remembered == anew
    assert remembered.count(b"Fridays</bdi>") == 1


def test_what_the_page_is_measured_against_keeps_no_text_and_drops_none():
    world = World()
    world.page()
    with scope(studio=world.studio):
        months = kept.kept_months(Student.objects.order_by("pk"), world.today)
    before = [dict(month.derived) for month in months]

    measured = bench.never_kept([kept_row_of(month) for month in months])
    for row in measured:
        assert "<li" in rows.overview_row(row, may_change=True)

    assert [row.month.derived for row in measured] == [{}, {}]
    assert [month.derived for month in months] == before


def test_what_is_measured_as_all_changed_finds_nothing_kept(monkeypatch, rf):
    monkeypatch.setattr(kept, "STORE", kept.Store(kept.MOST_KEPT))
    bench.hide_when_asked()
    found: list[bool] = []
    monkeypatch.setattr(bench, "overview", lambda _request: found.append(is_known()))
    world = World()
    world.page()
    with scopes_disabled():
        nor = world.studio.student_set.order_by("pk")[0]

    def is_known() -> bool:
        return nor.pk in kept.STORE.known("default", world.today)

    bench.cold(rf.get("/bench/cold"))

    assert found == [False]
    assert is_known()


def test_a_row_is_kept_in_the_language_it_was_written_in(monkeypatch):
    world = World()
    with scope(studio=world.studio):
        (month, _other) = kept.kept_months(Student.objects.order_by("pk"), world.today)
    monkeypatch.setattr(
        rows, "render_to_string", lambda _name, _context: f"written in {get_language()}"
    )

    for language in ("en-gb", "sv", "en-gb"):
        with override(language):
            text = rows.overview_row(kept_row_of(month), may_change=True)
            assert text == f"written in {language}"


NO_PLAN = KeptPlan(
    lately=None,
    older=None,
    is_settled=False,
    plan=Plan(block=None, version=None, follows=None, asked=None, in_a_row=0),
)


def test_the_store_forgets_who_was_not_looked_at_for_longest():
    world, store = World(), kept.Store(1)
    with scope(studio=world.studio):
        _nor, ida = Student.objects.order_by("pk")
        months = studio_months(Student.objects.order_by("pk"), world.today)
    for month in months:
        one = kept.Kept(row=(), plan=NO_PLAN, told=(), month=month)
        store.keep(("default", month.student.pk), one)

    assert set(store.known("default", world.today)) == {ida.pk}
    assert store.known("default", world.today + DAY) == {}
    assert store.known("another", world.today) == {}


def test_the_store_drops_days_that_are_over_wherever_a_studio_may_be():
    """The time zones furthest apart are those of the IANA data: 14 hours ahead, 12 behind."""
    moment = datetime(2026, 11, 29, 10, 30, tzinfo=UTC)
    east, west = (
        moment.astimezone(ZoneInfo(name)).date() for name in ("Pacific/Kiritimati", "Etc/GMT+12")
    )
    world, store = World(), kept.Store(5)
    with scope(studio=world.studio):
        (month, *_others) = studio_months(Student.objects.order_by("pk"), west)
    one = kept.Kept(row=(), plan=NO_PLAN, told=(), month=month)
    store.keep(("default", 1), one)

    assert (east - west).days == 2
    assert store.known("default", east) == {}
    assert store.known("default", west) == {1: one}
    assert store.known("default", east + DAY) == {}
    assert store.known("default", west) == {}


def test_rows_stand_in_the_order_they_are_asked_for_in():
    world = World()
    with scope(studio=world.studio):
        nor = Student.objects.order_by("pk")[0]
        for back in (1, 3, 2):  # so that no table holds them in order
            day = world.today - back * DAY
            makers.a_discomfort(nor, day=day)
            makers.an_interruption(nor, first_day=day, last_day=day)
            lessons.rate_lesson(
                nor, by=world.teacher, day=day, filed_on=day, note="", attack=back, sound=2,
                evenness=5, release=5,
            )  # fmt: skip
            for late in (1, 0):
                done_at = timezone.now() - (back + 1 - late / 2) * DAY
                makers.a_check_in(nor, block=nor.block_set.get(), day=day, done_at=done_at)

        (one, _), (other, _) = (
            months_of(Student.objects.order_by("pk"), world.today)
            for months_of in (kept.kept_months, studio_months)
        )

    for name in ("check_ins", "revisions", "filed_days", "lessons", "told", "interruptions"):
        assert list(getattr(one, name)) == list(getattr(other, name)), name
    assert list(one.check_ins.values()) == list(other.check_ins.values())
    assert [row.day for row in one.told] == [world.today - back * DAY for back in (2, 3, 1)]


def test_what_is_shown_is_read_whole(same_again):
    world, older = same_again
    with scope(studio=world.studio):
        (nor, _ida) = kept.kept_months(Student.objects.order_by("pk"), world.today)

    assert nor.block is not None
    assert nor.version is not None
    assert nor.block.get_deferred_fields() == set()
    assert nor.version.get_deferred_fields() == set()
    assert nor.version.block is nor.block
    assert all(row.get_deferred_fields() == set() for row in nor.check_ins.values())
    assert {row.version for row in nor.check_ins.values()} == {nor.version}
    assert older


@pytest.mark.parametrize("which", ["the running one", "the one to come"])
def test_a_block_that_is_taken_out_between_two_questions_is_not_shown(
    which, monkeypatch, both_ways
):
    world = World()
    with scopes_disabled():
        sam = makers.a_student(world.studio, name="Sam")
        last = makers.a_block(sam, first_day=world.today - 40 * DAY)
        days = {"the running one": -3, "the one to come": 9}[which]
        block = makers.a_block(sam, first_day=world.today + days * DAY)
    usual = KeptPlans._read_whole

    def read_late(*given):
        block.delete()
        return usual(*given)

    with monkeypatch.context() as patch, scope(studio=world.studio):
        patch.setattr(KeptPlans, "_read_whole", read_late)
        (month,) = kept.kept_months(Student.objects.filter(pk=sam.pk), world.today)
        assert "Sam" in rows.overview_row(kept_row_of(month), may_change=True)

    assert (month.block, month.follows) == (last, None)
    remembered, anew = both_ways(world)
    assert remembered == anew


def test_a_store_of_one_studio_shows_nothing_to_another():
    world, other = World(), World()
    world.page()

    page = other.page().decode()

    with scopes_disabled():
        mine = {row.public_id for row in Student.objects.filter(studio=world.studio)}
        theirs = {row.public_id for row in Student.objects.filter(studio=other.studio)}
    assert [name for name in mine if name in page] == []
    assert all(name in page for name in theirs)


def asked_by(world: World) -> int:
    """Count the questions for the months of a studio's students."""
    with scope(studio=world.studio), CaptureQueriesContext(connection) as asked:
        kept.kept_months(Student.objects.order_by("pk"), world.today)
    return len(asked)


@pytest.fixture
def _in_peace(monkeypatch):
    """Let SQLite name what it shows; the tests' own lies in memory, where no file tells of writes.

    Here its only connection has counted all that was ever changed.
    """
    monkeypatch.setattr(
        SQLiteWrapper,
        "what_is_seen",
        lambda self: None if self.in_atomic_block else str(self.connection.total_changes),
    )


@pytest.mark.django_db(transaction=True)
def test_what_sees_the_same_asks_once(monkeypatch):
    """A server that other tests write in is never quiet, so the name is given here."""
    world, found = World(), []

    for seen in ("one", "one", "another", "another"):
        monkeypatch.setattr(read_rows.WhatIsSeen, "template", f"'{seen}'")
        if connection.vendor == "sqlite":
            monkeypatch.setattr(read_rows, "named_beforehand", lambda _database, name=seen: name)
        found.append(asked_by(world))

    assert found == [8, 1, 8, 1]


@pytest.mark.usefixtures("_in_peace")
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", sorted(WRITES))
def test_every_kind_of_write_reaches_a_page_that_was_looked_at_in_peace(name, both_ways):
    world = World()

    for number in range(6):
        asked_by(world)
        world.write(name, number % 2, number)
        for _ in range(2):
            remembered, anew = both_ways(world)
            assert remembered == anew


def test_rows_are_never_older_than_what_they_are_kept_under(monkeypatch):
    nor = makers.a_student(makers.a_studio(), name="Nor")

    def name(_database: str) -> str:
        with scopes_disabled():
            Student.objects.filter(pk=nor.pk).update(name="Nora")
        return "what lies there"

    monkeypatch.setattr(read_rows, "named_beforehand", name)
    with scopes_disabled():
        rows = read_rows.ReadRows(Student.objects.filter(pk=nor.pk))
        assert rows.made(nor.pk).name == "Nora"


@pytest.mark.usefixtures("_in_peace")
@pytest.mark.django_db(transaction=True)
def test_what_is_written_while_the_page_is_made_is_on_the_next(monkeypatch, both_ways):
    """What is seen is named before the rows are read, so they may be newer, and never older."""
    world = World()
    asked_by(world)

    def plans(*arguments):
        monkeypatch.setattr(kept, "KeptPlans", KeptPlans)
        world.write("file a check-in", 0, 0)
        return KeptPlans(*arguments)

    world.write("rename", 1, 1)
    monkeypatch.setattr(kept, "KeptPlans", plans)
    world.page()

    for _ in range(2):
        remembered, anew = both_ways(world)
        assert remembered == anew


@pytest.mark.django_db(transaction=True)
def test_what_another_has_begun_to_write_reaches_the_page_when_it_is_done(both_ways):
    """Its number was given out before the look, so no newer one tells of it (PostgreSQL)."""
    world = World()
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one transaction in at a time")
    begun, looked, problems = Event(), Event(), []

    def write() -> None:
        try:
            with transaction.atomic():
                world.write("file a check-in", 0, 0)
                begun.set()
                looked.wait(20)
        except Exception as error:
            problems.append(error)
        finally:
            connection.close()

    other = Thread(target=write)
    other.start()
    begun.wait(20)
    Tries.objects.create(limit="anything", who="anybody", used=1, at=timezone.now())
    before = [both_ways(world) for _ in range(2)][-1]
    looked.set()
    other.join()
    after = both_ways(world)

    assert problems == []
    assert before[0] == before[1]
    assert after[0] == after[1] != before[1]


@pytest.mark.usefixtures("_in_peace")
@pytest.mark.django_db(transaction=True)
def test_within_a_transaction_its_own_writes_are_seen(both_ways):
    world = World()

    with transaction.atomic():
        world.write("rename", 1, 1)
        asked_by(world)
        for number in range(3):
            world.write("hurt, or closed", 0, number)
            remembered, anew = both_ways(world)
            assert remembered == anew
