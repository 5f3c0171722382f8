"""The demo: a studio of invented people, made once, fresh on any day, with every way in."""

import json
from collections import Counter
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from statistics import fmean
from typing import Any

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.test import Client, override_settings
from django_scopes import scope

from progress.demo import doors
from progress.demo.filling import fill
from progress.demo.people import PEOPLE, STUDIO_PUBLIC_ID
from progress.models import CheckIn, LessonRating, NotToday
from progress.queries.months import studio_months
from routines.engine import instruments
from routines.models import Block
from studio.access import practice_day
from studio.models import Discomfort, Grant, Interruption, Student, Studio, User
from studio.services import people
from studio.services.pairing import MOST_PHONES
from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db
A_WEEK = [datetime(2026, 11, 23 + number, 20, 0, tzinfo=UTC) for number in range(7)]


def the_json(capsys) -> dict[str, Any]:
    call_command("demo_studio", "--json")
    printed: dict[str, Any] = json.loads(capsys.readouterr().out)
    return printed


@pytest.fixture
def demo():
    made = fill(seed=8, moment=datetime(2026, 11, 25, 20, 0, tzinfo=UTC))
    with scope(studio=made.studio):
        yield made


def test_the_json_names_the_teacher_and_24_students_on_at_least_eight_instruments(capsys):
    printed = the_json(capsys)

    assert printed.keys() == {"teacher", "students"}
    assert [set(one) for one in printed["students"]] == [{"name", "instrument", "pair"}] * 24
    assert len({one["instrument"] for one in printed["students"]}) >= 8
    assert {one["instrument"] for one in printed["students"]} <= set(instruments.ids())


def test_the_printed_password_signs_the_teacher_in(capsys):
    teacher = the_json(capsys)["teacher"]
    browser = Client()

    browser.post("/sign-in", {"login": teacher["email"], "password": teacher["password"]})

    assert len(teacher["password"]) >= 12
    assert browser.get("/overview").status_code == 200


def test_every_printed_path_sets_up_a_phone(capsys):
    for student in the_json(capsys)["students"]:
        path, token = student["pair"].split("#")
        assert Client().post(path, {"token": token}).status_code == 302, student["name"]


def test_each_time_the_paths_are_new(capsys):
    first, second = the_json(capsys), the_json(capsys)

    paths = [one["pair"] for printed in (first, second) for one in printed["students"]]
    assert len(set(paths)) == 48


def test_without_json_four_lines_say_how_to_get_in(capsys):
    call_command("demo_studio")

    lines = capsys.readouterr().out.splitlines()

    assert lines[0].startswith("The teacher's page: http://127.0.0.1:")
    assert "Password: " in lines[1]
    assert lines[2].startswith("Open this in a second browser: it is Nor's phone.")
    assert "/pair#" in lines[3]


def test_a_second_run_keeps_what_was_typed(capsys):
    the_json(capsys)
    studio = Studio.objects.get()
    people.change_studio(studio, name="Renamed")
    with scope(studio=studio):
        nor = Student.objects.get(name="Nor")
        people.change_student(nor, name="Noor")
        wim, day = Student.objects.get(name="Wim"), practice_day(studio, A_WEEK[0])
        people.archive_student(wim, day=day, moment=A_WEEK[0])
        before = CheckIn.objects.count()

    names = [one["name"] for one in the_json(capsys)["students"]]

    with scope(studio=studio):
        assert CheckIn.objects.count() == before
    assert Studio.objects.get().name == "Renamed"
    assert ("Noor" in names, "Nor" in names, "Wim" in names) == (True, False, False)


def test_a_password_that_was_changed_is_neither_printed_nor_put_back(capsys):
    the_json(capsys)
    teacher = User.objects.get()
    teacher.set_password("another quiet low note")
    teacher.save()

    assert the_json(capsys)["teacher"]["password"] is None
    teacher.refresh_from_db()
    assert teacher.check_password("another quiet low note")


def test_a_child_without_a_parents_yes_gets_no_path(capsys):
    the_json(capsys)
    makers.a_student(Studio.objects.get(), name="Kim", consent_on=None)

    students = the_json(capsys)["students"]

    assert [one["name"] for one in students if one["pair"] is None] == ["Kim"]


def test_a_database_with_another_studio_is_refused_in_one_line():
    makers.a_teacher()

    with pytest.raises(CommandError, match="holds a real studio") as refused:
        call_command("demo_studio")

    assert refused.value.returncode == 2
    assert "\n" not in str(refused.value)
    assert not Studio.objects.filter(public_id=STUDIO_PUBLIC_ID).exists()


@override_settings(PUBLIC=True, ADDRESS="https://studio.example")
def test_a_public_site_is_refused():
    with pytest.raises(CommandError, match="public address") as refused:
        call_command("demo_studio")

    assert refused.value.returncode == 2
    assert not Studio.objects.exists()


def test_the_same_seed_draws_the_same_practice():
    moment = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)
    drawn = []
    for seed in (8, 8, 9):
        made = fill(seed=seed, moment=moment)
        with scope(studio=made.studio):
            drawn.append(
                list(CheckIn.objects.order_by("pk").values_list("key", "sound", "done_at"))
            )
            CheckIn.objects.all().delete()
            LessonRating.objects.all().delete()
            Block.objects.all().delete()
        made.studio.delete()
        made.teacher.delete()

    assert drawn[0] == drawn[1]
    assert drawn[0] != drawn[2]


@pytest.mark.parametrize("moment", A_WEEK, ids=lambda moment: moment.strftime("%A"))
def test_on_any_day_the_overview_has_something_of_everything(moment):
    made = fill(seed=8, moment=moment)
    day = practice_day(made.studio, moment)
    with scope(studio=made.studio):
        months = studio_months(Student.objects.order_by("name"), day)
        reasons = {
            month.student.name: [(str(one.code), one.figure) for one in month.reasons]
            for month in months
            if month.reasons
        }

        first = {name: told[0] for name, told in reasons.items()}
        assert first["Hugo"] == ("hurt", 1)
        assert reasons["Kalina"] == [("quiet", 9)]
        # Answers vary, so that a few look like a sudden change on any day.
        changed = [name for name in first if name not in {"Hugo", "Kalina"}]
        assert {first[name][0] for name in changed} <= {"fall", "effort", "repeated"}
        assert len(changed) <= 6
        assert sum(month.is_ending for month in months) >= 4
        assert sum(month.is_running and not month.is_ending for month in months) >= 8
        assert [month.student.name for month in months if month.block is None] == ["Wim"]
        monday = next(month for month in months if month.student.name == "Vera").block
        assert monday is not None
        assert (monday.first_day.weekday(), monday.first_day > day) == (0, True)


def test_there_are_three_months_of_blocks_in_a_row(demo):
    for student in Student.objects.exclude(name__in=("Vera", "Wim")):
        rows = list(Block.objects.filter(student=student).order_by("first_day"))

        assert len(rows) in {3, 4}
        assert {row.length_days for row in rows} == {28}
        for row, following in pairwise(rows):
            assert following.first_day - row.last_day == timedelta(days=1)


def test_about_three_days_in_four_are_reported(demo):
    day = practice_day(demo.studio, datetime(2026, 11, 25, 20, 0, tzinfo=UTC))
    due = sum(
        one < day and one <= block.last_day
        for block in Block.objects.all()
        for one in block.month.due_days()
    )

    filed = CheckIn.objects.filter(day__lt=day).values("student", "day").distinct().count()

    assert 0.66 < filed / due < 0.78


def test_students_differ_from_each_other_and_some_from_what_their_teacher_hears(demo):
    apart = {}
    for name in ("Caja", "Quentin", "Edith"):
        said = CheckIn.objects.filter(student__name=name, sound__isnull=False)
        heard = LessonRating.objects.filter(student__name=name, sound__isnull=False)
        apart[name] = _mean(said) - _mean(heard)

    assert apart["Caja"] > 1
    assert apart["Quentin"] < -0.4
    assert abs(apart["Edith"]) < 0.6


def _mean(rows) -> float:
    return fmean(rows.values_list("sound", flat=True))


def test_every_check_in_can_have_happened(demo):
    moment = datetime(2026, 11, 25, 20, 0, tzinfo=UTC)

    for row in CheckIn.objects.select_related("block", "version__block", "student__studio"):
        assert row.block.first_day <= row.day <= row.block.last_day
        assert row.version.from_day <= row.day
        assert practice_day(demo.studio, row.done_at) == row.day
        assert row.done_at < row.received_at <= moment
        assert row.high_note is None or (
            row.version.start_note <= row.high_note <= row.version.plan.highest_note
        )


def test_the_minutes_are_those_of_the_plan_that_was_played(demo):
    ada = CheckIn.objects.filter(student__name="Ada", completed=1.0, high_note__isnull=False)

    for row in ada.select_related("version__block"):
        plan = row.version.plan
        assert row.high_note is not None
        notes = (plan.start_note - plan.low_note + 1) + (row.high_note - plan.start_note + 1)
        counts = notes * plan.hold + (notes - 1) * plan.rest
        assert row.seconds == round(counts * 60 / plan.tempo)


def test_something_of_everything_a_teacher_meets_is_there(demo):
    answers_a_day = Counter(CheckIn.objects.values_list("student", "day"))

    assert max(answers_a_day.values()) == 2
    assert Discomfort.objects.filter(closed_at__isnull=True).count() == 1
    assert Discomfort.objects.filter(closed_at__isnull=False).count() == 1
    assert set(Interruption.objects.values_list("kind", flat=True)) == {
        "ill", "away", "mouth", "light",
    }  # fmt: skip
    assert set(NotToday.objects.values_list("reason", flat=True)) >= {"no time", "ill"}
    assert set(Grant.objects.values_list("state", flat=True)) == {
        GrantState.CONFIRMED, GrantState.PROVISIONAL, GrantState.ENDED,
    }  # fmt: skip
    assert CheckIn.objects.filter(source="teacher", grant__isnull=True).exists()
    assert CheckIn.objects.exclude(words="").exists()
    assert CheckIn.objects.filter(sound__isnull=True).exists()


def test_every_student_has_room_for_one_more_phone(demo):
    for student in doors.students(demo):
        held = Grant.objects.filter(student=student, ended_at__isnull=True).count()
        assert held < MOST_PHONES


def test_the_scenario_has_the_instruments_that_are_built_differently(demo):
    dov, luz = Student.objects.get(name="Dov"), Student.objects.get(name="Luz")

    assert (dov.instrument, dov.four_valves) == ("euphonium_bc", False)
    assert (luz.f_attachment, luz.clef, luz.note_naming) == (True, "tenor", "spanish")
    assert Counter(one.note_naming for one in PEOPLE)["german"] == 2
    assert {one.lesson_day for one in PEOPLE} == set(range(6))


@time_machine.travel(datetime(2026, 11, 26, 1, 30, tzinfo=UTC), tick=False)
def test_in_the_night_the_demo_still_belongs_to_the_evening_before(capsys):
    the_json(capsys)

    studio = Studio.objects.get()
    with scope(studio=studio):
        assert CheckIn.objects.latest("day").day <= practice_day(studio, datetime.now(UTC))
        assert Discomfort.objects.get(closed_at__isnull=True).day.isoformat() == "2026-11-24"
