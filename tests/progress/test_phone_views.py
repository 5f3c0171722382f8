"""The check-in and Today on the phone, through the browser's requests."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django_scopes import scopes_disabled

from progress.engine.check_in import Discomfort as HowItWas
from progress.models import CheckIn, NotToday
from studio.models import Discomfort, Interruption
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def studio(teacher):
    return makers.studio_of(teacher)


@pytest.fixture
def nor(studio):
    return makers.a_student(studio)


@pytest.fixture
def block(nor):
    return makers.a_block(nor)


@pytest.fixture
def phone(nor, block):
    return makers.a_phone(makers.a_grant(nor))


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def path_of(student, page: str = "") -> str:
    return f"/practice/{student.public_id}{page}"


def answers(student, **changes) -> dict[str, str]:
    return makers.the_answers(**{"day": makers.today(student.studio)} | changes)


def test_a_check_in_is_said_to_be_saved_by_a_page_that_reads_it_back(phone, nor):
    sent = phone.post(path_of(nor, "/check-in"), answers(nor))

    row = CheckIn.objects.get()
    page = phone.get(sent.headers["Location"])
    assert sent.headers["Location"] == path_of(nor, f"/saved/{row.public_id}")
    assert page.context["check_in"] == row
    row.delete()
    assert phone.get(sent.headers["Location"]).status_code == 404


def test_the_same_check_in_sent_twice_leads_to_the_same_row(phone, nor):
    data = answers(nor)

    places = {phone.post(path_of(nor, "/check-in"), data).headers["Location"] for _ in range(2)}

    assert len(places) == 1
    assert CheckIn.objects.count() == 1


def test_the_same_key_with_other_answers_is_a_conflict_that_keeps_what_was_typed(phone, nor):
    data = answers(nor, words="I liked it")
    phone.post(path_of(nor, "/check-in"), data)

    page = phone.post(path_of(nor, "/check-in"), data | {"sound": "2"})

    assert page.status_code == 409
    assert "already with other answers" in page.content.decode()
    assert page.context["form"]["words"].value() == "I liked it"
    assert CheckIn.objects.get().sound == 5


def test_a_missing_answer_comes_back_with_everything_else_kept(phone, nor):
    page = phone.post(path_of(nor, "/check-in"), answers(nor, sound="", words="I liked it"))

    assert page.status_code == 422
    assert page.context["form"].errors == {"sound": ["Pick one."]}
    assert page.context["form"]["words"].value() == "I liked it"
    assert "Save anyway" in page.content.decode()
    assert not CheckIn.objects.exists()


def test_save_anyway_keeps_what_was_not_answered_as_not_answered(phone, nor):
    phone.post(path_of(nor, "/check-in"), answers(nor, sound="", effort="", hurt="anyway"))

    row = CheckIn.objects.get()
    assert (row.sound, row.effort, row.attack) == (None, None, 4)
    assert row.discomfort == HowItWas.NONE


def test_something_hurt_is_kept_without_any_other_answer_and_answered_with_care(phone, nor):
    data = answers(nor, hurt="yes", how_much="pain", place="lips", attack="", sound="",
                   evenness="", release="", effort="")  # fmt: skip

    page = phone.post(path_of(nor, "/check-in"), data, follow=True).content.decode()

    assert "Rest today. Your teacher has been told." in page
    assert (Discomfort.objects.get().place, CheckIn.objects.get().attack) == ("lips", None)
    assert "You said something hurt." in phone.get(path_of(nor)).content.decode()


@pytest.mark.parametrize("place", ["dizzy", "chest"])
def test_dizziness_and_chest_pain_name_a_doctor(phone, nor, place):
    data = answers(nor, hurt="yes", how_much="mild", place=place)

    page = phone.post(path_of(nor, "/check-in"), data, follow=True).content.decode()

    assert "see a doctor before you play again" in page


@pytest.mark.parametrize("days", [-8, 1])
def test_a_day_outside_those_a_student_may_fill_in_is_refused(phone, nor, days):
    # At noon: after midnight the day that has begun may be filled in too.
    nor.studio.time_zone = makers.zone_where_it_is(12)
    nor.studio.save()
    day = makers.today(nor.studio) + timedelta(days=days)

    page = phone.post(path_of(nor, "/check-in"), answers(nor, day=day))

    assert page.status_code == 422
    assert "day" in page.context["form"].errors
    assert not CheckIn.objects.exists()


def at_hour(hour: int, phone, nor) -> str:
    """Read the page of the check-in while it is this hour in the studio."""
    nor.studio.time_zone = makers.zone_where_it_is(hour)
    nor.studio.save()
    page: str = phone.get(path_of(nor, "/check-in")).content.decode()
    return page


def test_after_midnight_the_page_comes_with_the_question_which_day_is_meant(phone, nor):
    # What came later would push the questions down under somebody's thumb.
    page = at_hour(1, phone, nor)

    today = makers.today(nor.studio)
    after = today + timedelta(days=1)
    assert '<div class="notice" data-midnight><p>It is ' in page
    assert f"Is this for <span data-midnight-day>{today:%A}</span>?" in page
    assert f"data-midnight-before>{today:%A}</button>" in page
    assert f"data-midnight-after>{after:%A}</button>" in page


def test_where_one_day_alone_may_be_meant_the_page_comes_without_the_question(phone, nor, block):
    at_noon = at_hour(12, phone, nor)

    nor.studio.time_zone = makers.zone_where_it_is(1)
    block.ended_on = makers.today(nor.studio)
    block.save()
    on_the_last_day = at_hour(1, phone, nor)

    assert "data-midnight hidden" in at_noon
    assert "data-midnight hidden" in on_the_last_day


def test_a_check_in_cannot_be_filed_for_another_student(phone, nor, studio):
    sam = makers.a_student(studio, name="Sam")
    makers.a_block(sam)

    answer = phone.post(path_of(sam, "/check-in"), answers(sam))

    assert answer.status_code == 404
    assert not CheckIn.objects.exists()


def test_what_one_phone_saved_another_phone_cannot_open(phone, nor, block):
    other = makers.a_grant(nor).grant
    row = makers.a_check_in(nor, block=block, grant=other)

    assert phone.get(path_of(nor, f"/saved/{row.public_id}")).status_code == 404


def test_a_phone_set_up_anew_that_sends_the_same_again_is_led_to_a_page_it_may_open(
    phone, nor, block
):
    sent = answers(nor)
    phone.post(path_of(nor, "/check-in"), sent)
    anew = makers.a_phone(makers.a_grant(nor))

    answer = anew.post(path_of(nor, "/check-in"), sent)

    assert CheckIn.objects.count() == 1
    assert answer.headers["Location"] == path_of(nor)
    assert anew.get(answer.headers["Location"]).status_code == 200


def test_a_student_without_a_block_gets_a_form_that_saves_nothing(studio):
    kim = makers.a_student(studio, name="Kim")
    phone = makers.a_phone(makers.a_grant(kim))

    opened = phone.get(path_of(kim, "/check-in"))
    sent = phone.post(path_of(kim, "/check-in"), answers(kim))

    assert (opened.status_code, sent.status_code) == (200, 422)
    assert not CheckIn.objects.exists()


@pytest.mark.parametrize(
    ("reason", "stored"),
    [("no-time", "no time"), ("ill", "ill"), ("away", "away"), ("elsewhere", "elsewhere")],
)
def test_not_today_is_kept_with_its_reason(phone, nor, reason, stored):
    phone.post(path_of(nor, f"/not-today/{reason}"))

    row = NotToday.objects.get()
    assert (row.reason, row.day) == (stored, makers.today(nor.studio))
    assert Interruption.objects.exists() is (stored in {"ill", "away"})


def test_a_reason_that_is_none_is_not_found(phone, nor):
    assert phone.post(path_of(nor, "/not-today/lazy")).status_code == 404
    assert not NotToday.objects.exists()


def test_something_hurts_in_the_session_is_kept_at_once_and_once(phone, nor):
    data = {"key": str(uuid4()), "step": "5"}

    answers_given = [phone.post(path_of(nor, "/hurt"), data).status_code for _ in range(2)]

    told = Discomfort.objects.get()
    assert answers_given == [201, 201]
    assert (told.student, told.step, told.in_session, told.closed_at) == (nor, 5, True, None)


def test_what_hurt_without_a_key_is_not_said_to_be_kept(phone, nor):
    answer = phone.post(path_of(nor, "/hurt"), {"step": "5"})

    assert (answer.status_code, answer.content) == (400, b"Not kept. Tell your teacher now.")


@pytest.mark.parametrize(
    ("begins", "state"), [(None, "none"), (3, "ahead"), (-40, "over"), (-7, "due")]
)
def test_today_says_where_in_the_month_it_is(studio, begins, state):
    kim = makers.a_student(studio, name="Kim")
    if begins is not None:
        first_day = makers.today(studio) + timedelta(days=begins)
        makers.a_block(kim, first_day=first_day, weekdays_off=[])

    page = makers.a_phone(makers.a_grant(kim)).get(path_of(kim))

    assert page.context["state"] == state


def test_today_is_a_day_off_where_the_block_says_so(studio):
    kim = makers.a_student(studio, name="Kim")
    makers.a_block(kim, weekdays_off=[makers.today(studio).weekday()])

    assert makers.a_phone(makers.a_grant(kim)).get(path_of(kim)).context["state"] == "off"


def test_today_is_done_after_the_check_in(phone, nor, block):
    makers.a_check_in(nor, block=block)

    assert phone.get(path_of(nor)).context["state"] == "done"


def test_a_phone_for_one_student_goes_straight_to_today(phone, nor):
    answer = phone.get("/practice")

    assert (answer.status_code, answer.headers["Location"]) == (302, path_of(nor))


def test_what_a_student_writes_is_text_and_never_markup(teacher, phone, nor):
    words = "<script>alert(1)</script> {{ 7 }} %s"
    phone.post(path_of(nor, "/check-in"), answers(nor, words=words))

    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}").content.decode()

    assert CheckIn.objects.get().words == words
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; {{ 7 }} %s" in page
