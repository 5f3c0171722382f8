"""Keeping a check-in: once for each key, under the plan that stood, with what hurt."""

import threading
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connections, transaction
from django_scopes import scope, scopes_disabled

from progress.engine.check_in import NoSession, Source
from progress.models import CheckIn, NotToday
from progress.services.check_ins import CheckInError, file_check_in, tell_not_today
from routines.models import Block
from routines.queries import is_still_played, played_on
from routines.services import change
from studio.models import Discomfort, Interruption
from tests import makers

TODAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
ANSWERS: dict[str, Any] = {
    "attack": 4,
    "sound": 5,
    "evenness": 3,
    "release": 4,
    "effort": 6,
    "discomfort": "none",
}


@pytest.fixture
def nor(db):
    student = makers.a_student(makers.a_studio())
    with scope(studio=student.studio):
        yield student


@pytest.fixture
def block(nor):
    return makers.a_block(nor, first_day=TODAY - timedelta(days=10))


@pytest.fixture
def grant(nor, block):
    return makers.a_grant(nor).grant


def filed(grant, *, key=None, day=TODAY, **answers) -> CheckIn:
    return file_check_in(
        grant, key=key or uuid4(), day=day, done_at=NOW, moment=NOW, **(ANSWERS | answers)
    )


def test_a_check_in_is_kept_with_its_block_its_version_and_its_phone(grant, block):
    row = CheckIn.objects.get(pk=filed(grant).pk)

    assert (row.block, row.version, row.grant) == (block, block.versions.get(), grant)
    assert (row.source, row.done_at, row.received_at) == (Source.PHONE, NOW, NOW)
    assert {name: getattr(row, name) for name in ANSWERS} == ANSWERS


def test_what_was_read_before_is_filed_while_it_still_holds(grant, block, nor):
    asked = played_on(nor, TODAY)
    assert asked is not None

    row = filed(grant, asked=asked)

    assert CheckIn.objects.get(pk=row.pk).version == asked
    assert (row.block, row.version) == (block, asked)


@pytest.mark.parametrize("what", ["a later version", "another block", "more days", "ended", "gone"])
def test_what_has_changed_since_it_was_read_is_read_anew(grant, block, nor, what):
    asked = played_on(nor, TODAY)
    assert asked is not None
    expected = asked.pk
    if what == "a later version":
        plan = makers.a_plan(nor, hold=12)
        change.change_block(block, plan, from_day=TODAY, by=makers.a_teacher(), moment=NOW)
        expected = block.versions.latest("from_day").pk
    elif what == "more days":
        Block.objects.filter(pk=block.pk).update(extra_days=3)
    else:
        Block.objects.filter(pk=block.pk).update(ended_on=TODAY - timedelta(days=1))
        if what == "another block":
            expected = makers.a_block(nor, first_day=TODAY).versions.get().pk
        if what == "gone":
            Block.objects.filter(pk=block.pk).delete()

    assert not is_still_played(asked, TODAY)
    if what in {"ended", "gone"}:
        with pytest.raises(CheckInError, match="There is no block on"):
            filed(grant, asked=asked)
        return
    assert filed(grant, asked=asked).version_id == expected


def test_of_a_day_outside_its_block_a_version_is_not_played(block, nor):
    asked = played_on(nor, TODAY)
    assert asked is not None

    assert is_still_played(asked, block.last_day)
    assert not is_still_played(asked, block.last_day + timedelta(days=1))
    assert not is_still_played(asked, block.first_day - timedelta(days=1))
    assert played_on(nor, block.first_day - timedelta(days=1)) is None


def test_the_same_key_with_the_same_answers_is_one_row_however_often_it_comes(grant):
    key = uuid4()

    rows = {filed(grant, key=key).pk for _ in range(3)}

    assert rows == set(CheckIn.objects.values_list("pk", flat=True))
    assert len(rows) == 1


@pytest.mark.parametrize(
    "other", [{"attack": 3}, {"effort": None}, {"day": TODAY - timedelta(days=1)}]
)
def test_the_same_key_with_other_answers_is_refused_and_the_first_stays(grant, other):
    key = uuid4()
    filed(grant, key=key)

    with pytest.raises(CheckInError, match="You saved Wednesday already with other answers"):
        filed(grant, key=key, **other)

    assert (CheckIn.objects.get().attack, CheckIn.objects.get().effort) == (4, 6)


def test_the_key_of_another_student_is_no_repeat_of_theirs(grant, nor):
    other, key = makers.a_student(nor.studio), uuid4()
    makers.a_block(other, first_day=TODAY)
    theirs = filed(makers.a_grant(other).grant, key=key)

    rows = [filed(grant, key=key, attack=2) for _ in range(2)]

    assert {row.student for row in rows} == {nor}
    assert rows[0] == rows[1] != theirs


def test_a_repeat_finds_its_row_though_the_block_was_changed_since(grant, nor, block):
    key = uuid4()
    first = filed(grant, key=key)
    makers.a_version(block, plan=makers.a_plan(nor, tempo=66), from_day=TODAY)

    assert filed(grant, key=key) == first


def test_a_repeat_finds_its_row_though_the_block_ended_since(grant, block):
    key = uuid4()
    first = filed(grant, key=key)
    block.ended_on = TODAY - timedelta(days=1)
    block.save(update_fields=["ended_on"])

    assert filed(grant, key=key) == first


def test_another_key_for_the_day_is_a_revision_and_both_are_kept(grant):
    filed(grant)
    filed(grant, sound=3)

    assert sorted(CheckIn.objects.values_list("day", "sound")) == [(TODAY, 3), (TODAY, 5)]


def test_a_check_in_is_kept_under_the_version_of_its_day(grant, nor, block):
    makers.a_version(block, plan=makers.a_plan(nor, tempo=66), from_day=TODAY)

    before, after = filed(grant, day=TODAY - timedelta(days=1)), filed(grant)

    assert (before.version.tempo, after.version.tempo) == (60, 66)


@pytest.mark.parametrize("days", [-11, 18])
def test_a_day_without_a_block_is_refused_in_words(grant, days):
    with pytest.raises(
        CheckInError, match=r"^There is no block on \w+ \d\d \w+: choose another day\.$"
    ):
        filed(grant, day=TODAY + timedelta(days=days))

    assert not CheckIn.objects.exists()


@pytest.mark.parametrize("days", [-10, 17])
def test_the_first_and_the_last_day_of_a_block_belong_to_it(grant, days):
    assert filed(grant, day=TODAY + timedelta(days=days)).pk


def test_what_was_not_answered_stays_not_answered(grant):
    empty = dict.fromkeys(("attack", "sound", "evenness", "release", "effort"))

    row = CheckIn.objects.get(pk=filed(grant, **empty).pk)

    assert {name: getattr(row, name) for name in empty} == empty
    assert (row.completed, row.seconds, row.high_note, row.trouble) == (None, None, None, None)


@pytest.mark.parametrize("how_much", ["mild", "pain"])
def test_what_hurt_opens_a_discomfort_once(grant, nor, how_much):
    key = uuid4()
    for _ in range(2):
        filed(grant, key=key, discomfort=how_much, place="lips")

    told = Discomfort.objects.get()
    assert (told.student, told.day, told.key) == (nor, TODAY, key)
    assert (told.how_much, told.place, told.closed_at) == (how_much, "lips", None)


def test_a_day_without_pain_opens_nothing_and_closes_nothing(grant, nor):
    open_since_before = makers.a_discomfort(nor, day=TODAY - timedelta(days=3))

    filed(grant)

    assert list(Discomfort.objects.filter(closed_at__isnull=True)) == [open_since_before]


def test_a_check_in_that_cannot_tell_what_hurt_is_not_kept_either(grant, monkeypatch):
    def fails(*args, **values):
        raise IntegrityError

    monkeypatch.setattr("progress.services.check_ins.wellbeing.open_discomfort", fails)

    with pytest.raises(IntegrityError), transaction.atomic():
        filed(grant, discomfort="pain")

    assert not CheckIn.objects.exists()


@pytest.mark.parametrize(
    "values", [{"attack": 0}, {"sound": 6}, {"effort": 5}, {"effort": 12}, {"completed": 1.5}]
)
def test_the_database_itself_refuses_an_answer_that_has_no_button(grant, values):
    with pytest.raises(IntegrityError), transaction.atomic():
        filed(grant, **values)


@pytest.mark.django_db(transaction=True)
def test_one_key_sent_by_eight_requests_at_once_is_one_row():
    student = makers.a_student(makers.a_studio())
    makers.a_block(student, first_day=TODAY)
    grant, key = makers.a_grant(student).grant, uuid4()
    together, kept = threading.Barrier(8), []

    def send() -> None:
        together.wait()
        try:
            with scope(studio=student.studio):
                kept.append(filed(grant, key=key, discomfort="pain").pk)
        finally:
            connections.close_all()

    sending = [threading.Thread(target=send) for _ in range(8)]
    for thread in sending:
        thread.start()
    for thread in sending:
        thread.join()

    with scopes_disabled():
        assert kept == [CheckIn.objects.get().pk] * 8
        assert Discomfort.objects.count() == 1


def test_the_newest_reason_for_a_day_stands(grant):
    for reason in (NoSession.NO_TIME, NoSession.ELSEWHERE):
        tell_not_today(grant, day=TODAY, reason=reason, moment=NOW)

    assert [row.reason for row in NotToday.objects.all()] == ["elsewhere"]


@pytest.mark.parametrize(
    ("reason", "kinds"),
    [
        (NoSession.ILL, ["ill"]),
        (NoSession.AWAY, ["away"]),
        (NoSession.NO_TIME, []),
        (NoSession.ELSEWHERE, []),
    ],
)
def test_ill_and_away_open_an_interruption_for_the_teacher_to_confirm(grant, reason, kinds):
    tell_not_today(grant, day=TODAY, reason=reason, moment=NOW)

    rows = Interruption.objects.filter(told_by_student=True, confirmed_at__isnull=True)
    assert list(rows.values_list("kind", flat=True)) == kinds
