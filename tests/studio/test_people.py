"""Making a studio, its first teacher, and its students; and what keeps a student from playing."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
from django.core.management import call_command
from django_scopes import scope, scopes_disabled

from studio import queries
from studio.models import Discomfort, Interruption, SetupToken, Student, Studio, User
from studio.services import people, wellbeing
from studio.words import HowMuch, InterruptionKind, Place
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
TODAY = date(2026, 11, 25)
STUDIO = {"name": "North Street", "time_zone": "Europe/Oslo"}
RUNA = {"name": "Runa", "email": "Runa@Example.org", "password": makers.PASSWORD}

pytestmark = pytest.mark.django_db


def set_up(token: str) -> User | None:
    return people.set_up_studio(token=token, moment=NOW, studio=STUDIO, teacher=RUNA)


def test_the_first_run_token_makes_the_studio_and_its_teacher():
    token = people.new_setup_token()

    teacher = set_up(token or "")

    assert teacher is not None
    assert (teacher.email, teacher.check_password(makers.PASSWORD)) == ("runa@example.org", True)
    assert makers.studio_of(teacher) == Studio.objects.get(name="North Street")


def test_a_wrong_first_run_token_makes_nothing():
    people.new_setup_token()

    assert set_up("guess") is None
    assert not Studio.objects.exists()


def test_a_first_run_token_works_once():
    token = people.new_setup_token() or ""
    set_up(token)
    User.objects.all().delete()

    assert set_up(token) is None


def test_a_new_first_run_token_ends_the_one_before():
    old, new = people.new_setup_token() or "", people.new_setup_token() or ""

    assert set_up(old) is None
    assert set_up(new) is not None


def test_the_first_run_token_is_stored_as_a_hash():
    token = people.new_setup_token() or ""

    stored = SetupToken.objects.get().token_hash

    assert stored.startswith("sha256$")
    assert token not in stored


def test_where_somebody_can_sign_in_there_is_no_first_run_token():
    makers.a_teacher()

    assert people.new_setup_token() is None


def test_the_first_run_command_prints_a_token_that_the_page_takes(client, capsys):
    call_command("first_run")
    said = capsys.readouterr().out.splitlines()

    answer = client.post(
        "/first-run",
        {"token": f" {said[-1]} ", "studio_name": "North Street", "time_zone": "Europe/Oslo",
         "note_naming": "german", "name": "Runa",
         "email": "runa@example.org", "password": makers.PASSWORD},
    )  # fmt: skip

    assert "/first-run" in said[0]
    assert (answer.status_code, answer.headers["Location"]) == (302, "/students/new")
    assert client.get("/overview").status_code == 200
    assert Studio.objects.get().note_naming == "german"


@pytest.mark.parametrize(("teachers", "leads_to"), [(0, "/first-run"), (1, "/sign-in")])
def test_the_first_page_of_a_stranger_is_the_first_run_until_somebody_can_sign_in(
    client, teachers, leads_to
):
    for _ in range(teachers):
        makers.a_teacher()

    assert client.get("/").headers["Location"] == leads_to


def test_the_first_run_command_says_when_somebody_can_sign_in_already(capsys):
    makers.a_teacher()

    call_command("first_run")

    assert capsys.readouterr().out.startswith("Somebody can sign in already: http://127.0.0.1")


def test_the_first_run_page_keeps_what_was_typed_beside_a_wrong_token(client):
    people.new_setup_token()

    page = client.post(
        "/first-run",
        {"token": "guess", "studio_name": "North Street", "time_zone": "Europe/Oslo",
         "note_naming": "german", "name": "Runa",
         "email": "runa@example.org", "password": makers.PASSWORD},
    ).content.decode()  # fmt: skip

    assert "This is not the token." in page
    assert 'value="North Street"' in page
    assert makers.PASSWORD not in page


@pytest.mark.parametrize("password", ["short one", "password1234", "runa@example.org"])
def test_a_weak_password_opens_no_studio(client, password):
    token = people.new_setup_token()

    page = client.post(
        "/first-run",
        {"token": token, "studio_name": "North Street", "time_zone": "Europe/Oslo",
         "note_naming": "german", "name": "Runa",
         "email": "runa@example.org", "password": password},
    )  # fmt: skip

    assert page.context["form"].errors.keys() == {"password"}
    assert not User.objects.exists()


def test_the_settings_are_saved(client):
    teacher = makers.a_teacher()
    client.force_login(teacher)

    client.post(
        "/settings",
        {"name": "South Street", "time_zone": "Asia/Tokyo", "day_ends_at": "03:30",
         "back_fill_days": "14", "link_hours": "168", "note_naming": "german"},
    )  # fmt: skip

    studio = makers.studio_of(teacher)
    assert (studio.name, studio.time_zone, studio.link_hours) == ("South Street", "Asia/Tokyo", 168)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("back_fill_days", "15"),
        ("back_fill_days", "-1"),
        ("link_hours", "0"),
        ("link_hours", "169"),
        ("link_hours", "9" * 40),
        ("day_ends_at", "06:01"),
        ("day_ends_at", "noon"),
        ("time_zone", "Mars/Olympus"),
        ("note_naming", "numbers"),
        ("name", "x" * 81),
        ("name", ""),
    ],
)
def test_a_setting_outside_its_limits_is_refused_beside_its_field(client, field, value):
    teacher = makers.a_teacher()
    client.force_login(teacher)
    typed = {"name": "South Street", "time_zone": "Asia/Tokyo", "day_ends_at": "04:00",
             "back_fill_days": "7", "link_hours": "72", "note_naming": "letters"}  # fmt: skip

    page = client.post("/settings", typed | {field: value})

    assert page.context["form"].errors.keys() == {field}
    assert makers.studio_of(teacher).name == "North Street Brass"


def test_a_student_who_has_left_is_off_the_list_and_can_come_back(client):
    teacher = makers.a_teacher()
    nor = makers.a_student(makers.studio_of(teacher))
    client.force_login(teacher)

    for listed in ([], [nor]):
        client.post(f"/students/{nor.public_id}/archive")
        assert list(client.get("/students").context["students"]) == listed


def test_a_consent_that_is_still_to_come_is_refused(client):
    teacher = makers.a_teacher()
    client.force_login(teacher)
    tomorrow = makers.today(makers.studio_of(teacher)) + timedelta(days=1)

    page = client.post(
        "/students/new",
        {"name": "Kim", "instrument": "horn_f", "grade": "open", "child": "yes",
         "consent_on": tomorrow.isoformat()},
    )  # fmt: skip

    assert page.context["form"].errors.keys() == {"consent_on"}
    with scopes_disabled():
        assert not Student.objects.exists()


@pytest.fixture
def nor():
    student = makers.a_student(makers.a_studio())
    with scope(studio=student.studio):
        yield student


def test_a_discomfort_told_twice_with_one_key_is_one(nor):
    key = uuid4()

    first = wellbeing.open_discomfort(nor, key=key, day=TODAY, moment=NOW, step=3)
    again = wellbeing.open_discomfort(nor, key=key, day=TODAY, moment=NOW, place=Place.LIPS)

    assert first == again
    assert (again.in_session, again.step, again.closed_at) == (True, 3, None)


def test_closing_a_discomfort_twice_keeps_who_closed_it_first(nor):
    told, runa = makers.a_discomfort(nor), makers.a_teacher(nor.studio)
    ivo = makers.a_teacher(nor.studio, name="Ivo")

    for teacher in (runa, ivo):
        wellbeing.close_discomfort(told, by=teacher, moment=NOW, spoken_with_family=True)

    assert Discomfort.objects.get().closed_by == runa


def test_a_childs_discomfort_stays_open_until_the_family_was_spoken_with(client, nor):
    told = makers.a_discomfort(nor, how_much=HowMuch.PAIN)
    client.force_login(makers.a_teacher(nor.studio))
    path = f"/discomforts/{told.public_id}/close"

    page = client.post(path, follow=True).content.decode()
    closed_at_first = Discomfort.objects.get().closed_at
    client.post(path, {"spoken_with_family": "on"})

    assert "have you spoken with the family?" in page
    assert closed_at_first is None
    assert Discomfort.objects.get().closed_at is not None


def test_an_adults_discomfort_is_closed_without_a_family(client, nor):
    people.change_student(nor, child=False)
    told = makers.a_discomfort(nor)
    client.force_login(makers.a_teacher(nor.studio))

    client.post(f"/discomforts/{told.public_id}/close")

    assert Discomfort.objects.get().closed_at is not None


def test_an_illness_told_on_two_days_is_one_interruption(nor):
    for day in (TODAY, TODAY + timedelta(days=1)):
        wellbeing.tell_interruption(nor, kind=InterruptionKind.ILL, day=day)

    ill = Interruption.objects.get()
    assert (ill.first_day, ill.last_day, ill.told_by_student) == (TODAY, None, True)
    assert ill.confirmed_at is None


def test_only_students_with_an_open_discomfort_are_named_as_hurting(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_discomfort(nor)
    makers.a_discomfort(sam, closed_at=NOW)

    assert queries.hurting([sam, nor]) == [nor]


def test_a_full_studio_says_so_and_keeps_what_was_typed(monkeypatch):
    monkeypatch.setattr(people, "MOST_STUDENTS", 2)
    teacher = makers.a_teacher()
    studio, desk = makers.studio_of(teacher), makers.signed_in(teacher)
    makers.a_student(studio, archived_on=makers.today(studio))
    typed = {"name": "Thistlewick", "instrument": "horn_f", "grade": "open", "child": "no"}

    second, third = (desk.post("/students/new", typed) for _ in range(2))

    assert (second.status_code, third.status_code) == (302, 200)
    page = third.content.decode()
    assert "Not added: 1. The studio has 2 students" in page
    assert 'value="Thistlewick"' in page
    with scopes_disabled():
        assert Student.objects.count() == 2


def test_a_list_that_does_not_fit_adds_nobody(monkeypatch):
    monkeypatch.setattr(people, "MOST_STUDENTS", 2)
    teacher = makers.a_teacher()
    listed = {
        "text": "Name,Instrument\nAda,horn\nBo,horn\nCy,horn",
        "add": "yes",
        "looked": "on",
    }

    answer = makers.signed_in(teacher).post("/students/list", listed)

    assert answer.status_code == 422
    assert "Not added: 3. The studio has 0 students" in answer.content.decode()
    with scopes_disabled():
        assert Student.objects.count() == 0
