"""Rating at lessons, and writing down what keeps a student from the plan."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from progress.models import LessonRating
from progress.queries.lessons import two_ears
from progress.queries.months import student_month
from studio.models import Interruption
from tests import makers

pytestmark = pytest.mark.django_db
HEARD = {"attack": "4", "sound": "5", "evenness": "4", "release": "3"}


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.fixture
def nor(teacher):
    student = makers.a_student(makers.studio_of(teacher))
    makers.a_block(student, first_day=makers.today(student.studio) - timedelta(days=13))
    return student


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def rating_of(student, **changes):
    return HEARD | {"day": makers.today(student.studio).isoformat(), "note": ""} | changes


def test_what_the_teacher_heard_is_kept_on_the_four_rows_of_the_check_in(desk, nor, teacher):
    desk.post(reverse("progress:rate", args=[nor.public_id]), rating_of(nor))

    kept = LessonRating.objects.get()
    assert (kept.attack, kept.sound, kept.evenness, kept.release) == (4, 5, 4, 3)
    assert (kept.by, kept.filed_on) == (teacher, makers.today(nor.studio))


@pytest.mark.parametrize("day", ["0001-01-01", "0001-02-28", "0202-11-20", "1999-12-31"])
def test_a_year_typed_wrongly_is_answered_in_words_and_nothing_typed_is_lost(desk, nor, day):
    answer = desk.post(
        reverse("progress:rate", args=[nor.public_id]), rating_of(nor, day=day, note="Lovely lows")
    )

    assert answer.status_code == 422
    page = answer.content.decode()
    assert "choose another day" in page
    assert f'value="{day}"' in page
    assert "Lovely lows" in page
    assert not LessonRating.objects.exists()


def test_rated_again_on_the_same_day_the_newer_stands(desk, nor):
    address = reverse("progress:rate", args=[nor.public_id])
    desk.post(address, rating_of(nor))

    desk.post(address, rating_of(nor, sound="2"))

    assert [row.sound for row in LessonRating.objects.all()] == [2]


def test_rated_again_with_one_row_the_others_stay_as_they_were_heard(desk, nor):
    address = reverse("progress:rate", args=[nor.public_id])
    desk.post(address, rating_of(nor, note="Lovely low notes"))

    assert desk.get(address).context["form"]["sound"].value() == 5
    only = {"attack": "", "sound": "2", "evenness": "", "release": ""}
    desk.post(address, rating_of(nor, **only))

    kept = LessonRating.objects.get()
    assert (kept.attack, kept.sound, kept.evenness, kept.release) == (4, 2, 4, 3)
    assert kept.note == "Lovely low notes"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"attack": "", "sound": "", "evenness": "", "release": ""}, "Nothing is rated yet"),
        ({"day": "2099-01-01"}, "still to come"),
        ({"day": "2001-01-01"}, "has no block on Monday 01 January"),
        ({"sound": "6"}, "valid choice"),
    ],
)
def test_what_cannot_be_kept_comes_back_in_words(desk, nor, changes, message):
    page = desk.post(reverse("progress:rate", args=[nor.public_id]), rating_of(nor, **changes))

    assert page.status_code == 422
    assert message in page.content.decode()
    assert LessonRating.objects.count() == 0


def test_on_a_lesson_day_the_next_student_follows_by_itself(desk, nor, teacher):
    weekday = makers.today(nor.studio).weekday()
    ola = makers.a_student(makers.studio_of(teacher), name="Ola", lesson_day=weekday)
    makers.a_block(ola)
    nor.lesson_day = weekday
    nor.save()

    first = desk.get(reverse("progress:lessons")).context["next"]
    answer = desk.post(
        reverse("progress:rate", args=[nor.public_id]) + f"?list={weekday}", rating_of(nor)
    )
    last = desk.post(
        reverse("progress:rate", args=[ola.public_id]) + f"?list={weekday}", rating_of(ola)
    )

    assert first == nor
    assert answer.headers["Location"].startswith(reverse("progress:rate", args=[ola.public_id]))
    assert last.headers["Location"] == reverse("progress:lessons") + f"?weekday={weekday}"


def test_own_answers_of_the_week_stand_beside_what_was_heard(desk, nor):
    today = makers.today(nor.studio)
    block = nor.block_set.get()
    makers.a_check_in(nor, block=block, day=today - timedelta(days=1), sound=5, attack=4)
    makers.a_check_in(nor, block=block, day=today, sound=4, attack=None)
    makers.a_check_in(nor, block=block, day=today - timedelta(days=7), sound=1, attack=1)
    desk.post(reverse("progress:rate", args=[nor.public_id]), rating_of(nor))

    (ears,) = two_ears(student_month(nor, today))

    assert ears.pairs[:2] == [(4, 4.0), (5, 4.5)]


def test_a_student_who_told_of_being_ill_is_confirmed_and_well_again(desk, nor):
    phone = makers.a_phone(makers.a_grant(nor))
    phone.post(f"/practice/{nor.public_id}/not-today/ill")
    told = Interruption.objects.get()

    shown = desk.get(reverse("progress:student", args=[nor.public_id])).content.decode()
    desk.post(reverse("progress:confirm_interruption", args=[told.public_id]))
    Interruption.objects.update(first_day=told.first_day - timedelta(days=1))
    desk.post(reverse("progress:end_interruption", args=[told.public_id]))

    told.refresh_from_db()
    assert "told by Nor, not confirmed yet" in shown
    assert told.confirmed_at is not None
    assert told.last_day == told.first_day


def test_one_that_began_today_and_is_over_is_no_more(desk, nor):
    told = makers.an_interruption(nor)

    desk.post(reverse("progress:end_interruption", args=[told.public_id]))

    assert Interruption.objects.count() == 0


def test_what_was_written_by_mistake_is_taken_out_and_twice_is_once(desk, nor):
    said = {"kind": "away", "first_day": "2026-11-20", "last_day": "2026-11-21", "note": ""}
    address = reverse("progress:add_interruption", args=[nor.public_id])
    desk.post(address, said)
    desk.post(address, said)
    (told,) = Interruption.objects.all()

    desk.post(reverse("progress:remove_interruption", args=[told.public_id]))

    assert Interruption.objects.count() == 0


def test_an_interruption_that_ends_before_it_begins_comes_back_in_words(desk, nor):
    page = desk.post(
        reverse("progress:add_interruption", args=[nor.public_id]),
        {"kind": "mouth", "first_day": "2026-11-20", "last_day": "2026-11-19", "note": ""},
    )

    assert page.status_code == 422
    assert "19 November is before 20 November" in page.content.decode()
