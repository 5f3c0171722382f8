"""The builder, the list of students, and the session's page, through the browser's requests."""

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from routines.engine import timeline
from routines.forms.begin import begin_with
from routines.models import Block
from studio.models import Student
from tests import makers

pytestmark = pytest.mark.django_db
ASSIGN = "/blocks/assign"


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def studio(teacher):
    return makers.studio_of(teacher)


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


def typed(*students: Student, **changes: Any) -> dict[str, Any]:
    """Write the first student's baseline as the builder sends it, with changes."""
    begun = begin_with(makers.a_plan(students[0]), first_day=makers.today(students[0].studio))
    return begun | {"students": [student.public_id for student in students]} | changes


def test_the_builder_opens_with_the_ticked_students_instrument(desk, studio):
    uli = makers.a_student(studio, name="Uli", instrument="tuba_f")
    makers.a_student(studio)

    form = desk.get(ASSIGN, {"students": uli.public_id}).context["form"]

    assert form["instrument"].value() == "tuba_f"
    assert [student.name for student in form.chosen] == ["Uli"]


def test_a_block_goes_to_each_ticked_student(desk, studio):
    nor, uli = makers.a_student(studio), makers.a_student(studio, name="Uli", instrument="tuba_f")

    answer = desk.post(ASSIGN, typed(nor, uli, message="Breathe low."), follow=True)

    assert answer.redirect_chain[0][0].startswith("/blocks/assigned/")
    assert [row.student.name for row in answer.context["blocks"]] == ["Nor", "Uli"]
    assert answer.context["undo"] is True


def test_a_block_assigned_by_mistake_is_taken_back(desk, studio):
    page = desk.post(ASSIGN, typed(makers.a_student(studio)), follow=True)
    batch = page.context["batch"]

    said = desk.post(f"/blocks/assigned/{batch}/undo", follow=True).content.decode()

    assert "Taken back: Nor." in said
    with scopes_disabled():
        assert not Block.objects.exists()


def test_a_mistake_keeps_everything_that_was_typed(desk, studio):
    nor = makers.a_student(studio)

    page = desk.post(ASSIGN, typed(nor, hold="99", tempo="72", message="Breathe low."))

    form = page.context["form"]
    assert page.status_code == 422
    assert "Hold 99 counts: choose 2 to 32." in page.content.decode()
    assert (form["tempo"].value(), form["message"].value()) == ("72", "Breathe low.")
    assert form.chosen == [nor]


def test_assigning_names_every_student_with_something_open(desk, studio):
    nor, sam = makers.a_student(studio), makers.a_student(studio, name="Sam")
    makers.a_discomfort(sam)

    preview = desk.post("/blocks/preview", typed(nor, sam))

    assert preview.context["hurting"] == [sam]
    assert "Sam" in preview.content.decode()


def test_the_preview_shows_the_very_numbers_of_the_timeline(desk, studio):
    nor = makers.a_student(studio)
    plan = makers.a_plan(nor, hold=12, top_note=79)

    preview = desk.post("/blocks/preview", typed(nor, hold=12, top_note=79))

    sheet, readers = preview.context["sheets"][0]
    assert sheet.totals == timeline.build(plan).totals
    assert readers == [nor]
    # 27 notes of 12 counts at 60 with 26 rests of 8 between: 324 + 208 seconds.
    assert "27 notes. 8 min 52 s a day, of which 5 min 24 s playing." in preview.content.decode()


def test_the_preview_ends_where_the_holidays_known_already_move_it(desk, studio):
    nor = makers.a_student(studio)
    today = makers.today(studio)
    makers.an_interruption(
        nor, kind="away", first_day=today + timedelta(days=5),
        last_day=today + timedelta(days=7), confirmed_at=timezone.now(),
    )  # fmt: skip

    preview = desk.post("/blocks/preview", typed(nor))

    assert preview.context["ends"] == today + timedelta(days=27 + 3)


def test_the_preview_answers_what_is_half_typed(desk, studio):
    preview = desk.post("/blocks/preview", typed(makers.a_student(studio), hold=""))

    assert preview.status_code == 200
    assert preview.context["sheets"] == []


@pytest.mark.parametrize("apply", ["endurance", "recovery", "compact", "contrast", "polka", ""])
def test_a_variants_button_changes_its_numbers_and_keeps_the_rest(desk, studio, apply):
    nor = makers.a_student(studio)
    counts = {"endurance": (12, 8), "recovery": (8, 4), "compact": (4, 4)}.get(apply, (8, 8))

    page = desk.get(ASSIGN, typed(nor, tempo=72, message="Breathe low.", apply=apply))

    form = page.context["form"]
    assert (int(form["hold"].value()), int(form["rest"].value())) == counts
    assert (form["tempo"].value(), form["message"].value()) == ("72", "Breathe low.")


@pytest.mark.parametrize("instrument", ["", "kazoo"])
def test_an_instrument_that_is_none_breaks_nothing(desk, studio, instrument):
    data = typed(makers.a_student(studio), instrument=instrument)

    assert desk.get(ASSIGN, data).status_code == 200
    assert desk.post("/blocks/preview", data).status_code == 200


def test_an_empty_form_is_answered_with_its_errors(desk, studio):
    makers.a_student(studio)

    page = desk.post(ASSIGN, {})

    assert page.status_code == 422
    assert "students" in page.context["form"].errors


def test_the_builder_of_an_empty_studio_opens(desk):
    assert desk.get(ASSIGN).status_code == 200


def test_a_stranger_cannot_hand_a_block_to_another_studios_student(desk, studio):
    foreign = makers.a_student(makers.a_studio(), name="Quillfeather")

    page = desk.post(ASSIGN, typed(foreign))

    assert page.status_code == 422
    assert "Quillfeather" not in page.content.decode()
    with scopes_disabled():
        assert not Block.objects.exists()


def test_a_block_sent_after_the_sign_in_ran_out_comes_back_with_it(client, teacher, studio):
    nor = makers.a_student(studio)
    sent = typed(nor, tempo="72", message="Breathe low.", weekdays_off=["5", "6"])

    answer = client.post(ASSIGN, sent, follow=True)

    assert "nothing was assigned" in answer.content.decode()
    client.force_login(teacher)
    form = client.get(ASSIGN).context["form"]
    assert (form["tempo"].value(), form["message"].value()) == ("72", "Breathe low.")
    assert (form.chosen, form["weekdays_off"].value()) == ([nor], ["5", "6"])
    assert client.get(ASSIGN).context["form"]["message"].value() is None


def test_what_was_typed_does_not_come_back_to_another_studio(client, studio):
    client.post(ASSIGN, typed(makers.a_student(studio), message="Breathe low."))

    client.force_login(makers.a_teacher())

    assert "Breathe low." not in client.get(ASSIGN).content.decode()


def test_an_open_builder_says_that_the_sign_in_ran_out(client, studio):
    nor = makers.a_student(studio)

    answer = client.post("/blocks/preview", typed(nor), headers={"hx-request": "true"})

    assert answer.headers["HX-Retarget"] == "#preview-notice"
    assert "You are signed out, and nothing is assigned." in answer.content.decode()


def test_a_student_is_added_with_what_they_play(desk):
    desk.post(
        "/students/new",
        {"name": "Uli", "instrument": "euphonium_bc", "valves": "3", "grade": "beginner",
         "child": "yes", "lesson_day": "2", "group": "Town Band"},
    )  # fmt: skip

    with scopes_disabled():
        uli = Student.objects.get()
    assert (uli.instrument, uli.four_valves, uli.lesson_day, uli.child) == (
        "euphonium_bc", False, 2, True
    )  # fmt: skip
    assert uli.may_use_a_phone is False


def test_a_change_of_instrument_leaves_the_block_on_the_one_it_was_made_for(desk, studio):
    nor = makers.a_student(studio)
    block = makers.a_block(nor)

    desk.post(
        f"/students/{nor.public_id}/details",
        {"name": "Nor", "instrument": "horn_f", "grade": "open", "child": "no"},
    )

    with scopes_disabled():
        assert Student.objects.get().instrument == "horn_f"
        assert Block.objects.get(pk=block.pk).instrument == "trumpet_bb"


def test_the_students_are_listed_in_one_number_of_queries(desk, studio, django_assert_num_queries):
    makers.a_student(studio)
    with django_assert_num_queries(5):
        desk.get("/students")
    for name in ("Sam", "Uli"):
        makers.a_student(studio, name=name)

    with django_assert_num_queries(5):
        page = desk.get("/students")

    assert [student.name for student in page.context["students"]] == ["Nor", "Sam", "Uli"]


def steps_on(page) -> dict[str, Any]:
    found = re.search(
        r'<script id="session-data" type="application/json">(.*?)</script>',
        page.content.decode(),
        re.S,
    )
    assert found is not None
    written: dict[str, Any] = json.loads(found[1])
    return written


def test_the_session_is_the_timeline_of_the_running_block(studio):
    nor = makers.a_student(studio)
    plan = makers.a_plan(nor, hold=4, rest=4, top_note=72)
    makers.a_block(nor, plan=plan)

    page = makers.a_phone(makers.a_grant(nor)).get(f"/practice/{nor.public_id}/session")

    built = timeline.build(plan, 8)
    assert [step["start"] for step in steps_on(page)["steps"]] == [s.start for s in built.steps]
    assert "Nor" in page.content.decode()


@pytest.mark.parametrize("days_ahead", [-40, 3])
def test_without_a_running_block_the_session_leads_back_to_today(studio, days_ahead):
    nor = makers.a_student(studio)
    makers.a_block(nor, first_day=makers.today(studio) + timedelta(days=days_ahead))

    answer = makers.a_phone(makers.a_grant(nor)).get(f"/practice/{nor.public_id}/session")

    assert (answer.status_code, answer.headers["Location"]) == (302, f"/practice/{nor.public_id}")
