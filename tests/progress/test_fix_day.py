"""A check-in of the wrong day: moved or taken out by a teacher, and never overwritten."""

from datetime import date, timedelta

import pytest
from django.forms import model_to_dict
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.models import CheckIn, SetAside
from progress.queries.fix_day import days_to_move
from progress.queries.months import student_month
from progress.services import check_ins
from progress.services.check_ins import CheckInError
from studio.models import Discomfort
from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db
A_DAY = timedelta(days=1)


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def today(nor):
    return makers.today(nor.studio)


@pytest.fixture
def block(nor):
    return makers.a_block(nor)


@pytest.fixture
def filed(nor, block, today):
    return makers.a_check_in(nor, block=block, day=today, words="Good today.", sound=5)


def stand(student, today) -> dict[date, tuple[int | None, str]]:
    """Say which day counts which answer for sound, and who wrote it down."""
    with scope(studio=student.studio):
        rows = student_month(student, today).check_ins
    return {day: (row.sound, row.source) for day, row in rows.items()}


def move(check_in, day, today, by) -> None:
    with scope(studio=check_in.student.studio):
        check_ins.move_check_in(check_in, day=day, today=today, by=by, moment=timezone.now())


def test_a_moved_check_in_counts_for_its_new_day_by_the_teacher(filed, nor, today, teacher):
    move(filed, today - A_DAY, today, teacher)

    assert stand(nor, today) == {today - A_DAY: (5, "teacher")}


def test_what_was_typed_stays_as_it_came(filed, today, teacher):
    before = model_to_dict(filed)

    move(filed, today - A_DAY, today, teacher)

    with scopes_disabled():
        assert model_to_dict(CheckIn.objects.get(pk=filed.pk)) == before
        aside = SetAside.objects.get()
        copy = model_to_dict(CheckIn.objects.get(source="teacher"))
    new = {"id", "key", "day", "source", "version", "block"}
    assert {name for name in before if copy[name] != before[name]} <= new
    assert (aside.by, copy["words"]) == (teacher, "Good today.")


def test_a_check_in_moved_twice_leaves_one_copy(filed, nor, today, teacher):
    move(filed, today - A_DAY, today, teacher)
    with scopes_disabled():
        copy = CheckIn.objects.get(source="teacher")

    move(copy, today - 2 * A_DAY, today, teacher)

    assert stand(nor, today) == {today - 2 * A_DAY: (5, "teacher")}
    with scopes_disabled():
        assert CheckIn.objects.count() == 2


def test_an_earlier_answer_of_the_day_counts_again(filed, nor, block, today, teacher):
    makers.a_check_in(
        nor, block=block, day=today, sound=2, done_at=filed.done_at - timedelta(hours=1)
    )

    move(filed, today - A_DAY, today, teacher)

    assert stand(nor, today) == {today: (2, "phone"), today - A_DAY: (5, "teacher")}


def test_a_check_in_taken_out_counts_for_no_day_and_can_be_put_back(filed, nor, today, teacher):
    with scope(studio=nor.studio):
        check_ins.remove_check_in(filed, by=teacher, moment=timezone.now())
        assert stand(nor, today) == {}

        check_ins.put_back_check_in(filed)

    assert stand(nor, today) == {today: (5, "phone")}


def test_a_move_that_is_put_back_leaves_nothing_behind(filed, nor, today, teacher):
    move(filed, today - A_DAY, today, teacher)

    with scope(studio=nor.studio):
        check_ins.put_back_check_in(CheckIn.objects.get(source="teacher"))

    assert stand(nor, today) == {today: (5, "phone")}
    with scopes_disabled():
        assert (CheckIn.objects.count(), SetAside.objects.count()) == (1, 0)


def test_days_that_are_taken_to_come_or_outside_a_block_are_not_offered(filed, nor, block, today):
    makers.a_check_in(nor, block=block, day=today - 3 * A_DAY)

    with scope(studio=nor.studio):
        days = days_to_move(filed, today)

    # The block began seven days ago.
    assert days == [today - number * A_DAY for number in (7, 6, 5, 4, 2, 1)]


@pytest.mark.parametrize("days_back", [3, -1, 8])
def test_a_day_that_cannot_be_is_refused_and_nothing_changes(
    filed, nor, block, today, teacher, days_back
):
    makers.a_check_in(nor, block=block, day=today - 3 * A_DAY, sound=1)
    before = stand(nor, today)

    with pytest.raises(CheckInError, match="Nor’s check-in cannot go to"):
        move(filed, today - days_back * A_DAY, today, teacher)

    assert stand(nor, today) == before


def test_a_month_on_another_instrument_takes_no_check_in_of_this_one(filed, nor, block, today):
    with scopes_disabled():
        block.first_day = today
        block.save()
    plan = makers.a_plan(makers.a_student(nor.studio, instrument="horn_f"))
    makers.a_block(nor, first_day=today - 7 * A_DAY, plan=plan, ended_on=today - A_DAY)

    with scope(studio=nor.studio):
        assert days_to_move(filed, today) == []


def test_what_hurt_stays_open_whatever_becomes_of_the_day(nor, block, today, teacher):
    hurt = makers.a_check_in(nor, block=block, day=today, discomfort="pain")
    makers.a_discomfort(nor, day=today)

    with scope(studio=nor.studio):
        check_ins.remove_check_in(hurt, by=teacher, moment=timezone.now())

        assert Discomfort.objects.get().closed_at is None


def test_a_refused_phone_takes_its_moved_check_in_along(nor, block, today, teacher):
    phone = makers.a_grant(nor).grant
    filed = makers.a_check_in(nor, block=block, day=today, grant=phone)
    move(filed, today - A_DAY, today, teacher)

    with scopes_disabled():
        phone.state = GrantState.REFUSED
        phone.save()

    assert stand(nor, today) == {}


def test_a_phone_that_sends_the_moved_check_in_again_changes_nothing(nor, block, today, teacher):
    phone = makers.a_grant(nor).grant
    sent = {"day": today, "attack": 4, "key": "6f0c7f64-3c0f-4f9e-9a1e-0d8b5a1f0c55"}
    with scope(studio=nor.studio):
        moment = timezone.now()
        filed = check_ins.file_check_in(phone, done_at=moment, moment=moment, **sent)
        move(filed, today - A_DAY, today, teacher)

        again = check_ins.file_check_in(phone, done_at=moment, moment=moment, **sent)

    assert again.pk == filed.pk
    assert list(stand(nor, today)) == [today - A_DAY]


def test_the_page_moves_says_so_and_puts_back(filed, nor, today, teacher):
    desk = makers.signed_in(teacher)
    page, day = f"/check-ins/{filed.public_id}/day", today - A_DAY
    assert page in desk.get(f"/students/{nor.public_id}").content.decode()

    said = desk.post(page, {"day": day.isoformat()}, follow=True).content.decode()

    assert f"It counts for {day:%A} {day.day} {day:%B} now" in said
    back = desk.post(f"/check-ins/{filed.public_id}/put-back", follow=True).content.decode()
    assert "again, as it was filed." in back
    assert stand(nor, today) == {today: (5, "phone")}


def test_the_page_of_the_copy_is_that_of_what_was_filed(filed, today, teacher):
    move(filed, today - A_DAY, today, teacher)
    with scopes_disabled():
        copy = CheckIn.objects.get(source="teacher")

    page = makers.signed_in(teacher).get(f"/check-ins/{copy.public_id}/day")

    assert page.context["check_in"] == filed


@pytest.mark.parametrize("day", ["", "2020-01-01", "yesterday"])
def test_a_day_that_is_none_is_answered_in_words(filed, teacher, day):
    page = makers.signed_in(teacher).post(f"/check-ins/{filed.public_id}/day", {"day": day})

    assert page.status_code == 422
    assert "day" in page.context["form"].errors
    assert page.context["aside"] is None


def test_a_day_that_is_taken_while_the_page_is_open_is_said_and_nothing_moves(
    filed, nor, today, teacher, monkeypatch
):
    def taken_meanwhile(*_check_in_and_today: object) -> list[date]:
        return []

    monkeypatch.setattr(check_ins, "days_to_move", taken_meanwhile)
    day = today - A_DAY

    page = makers.signed_in(teacher).post(
        f"/check-ins/{filed.public_id}/day", {"day": day.isoformat()}
    )

    assert page.status_code == 422
    assert "choose one of the days on the page" in page.content.decode()
    assert stand(nor, today) == {today: (5, "phone")}
