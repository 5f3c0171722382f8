"""Whom a block goes to, what it begins with, and what happens where days are taken."""

from datetime import timedelta
from typing import Any

import pytest
from django_scopes import scopes_disabled

from routines.engine import notes
from routines.forms.begin import begin_with
from routines.models import Block, BlockVersion
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


def ticked(page) -> list[str]:
    return [student.name for student in page.context["form"].chosen]


def blocks() -> dict[str, Block]:
    with scopes_disabled():
        rows = Block.objects.select_related("student").order_by("first_day")
        return {row.student.name: row for row in rows}


def test_a_press_ticks_a_group_and_leaves_the_pages_own_ticks(desk, studio):
    nor = makers.a_student(studio)
    for name in ("Sam", "Uli"):
        makers.a_student(studio, name=name, group="Town Band")

    page = desk.post(ASSIGN, typed(nor, tick="group:Town Band", tempo="72"))

    assert ticked(page) == ["Nor", "Sam", "Uli"]
    assert page.context["form"]["tempo"].value() == "72"
    assert ticked(desk.post(ASSIGN, typed(*all_of(studio), tick="group:Town Band"))) == ["Nor"]


def all_of(studio) -> list[Student]:
    with scopes_disabled():
        return list(Student.objects.filter(studio=studio).select_related("studio"))


@pytest.mark.parametrize(
    ("press", "names"),
    [
        ("day:Tuesday", ["Sam"]),
        ("day:No lesson day", ["Nor", "Uli"]),
        ("block:Hold 8 · Rest 8", ["Nor", "Uli"]),
        ("block:Hold 12 · Rest 8", ["Sam"]),
        ("everybody:", ["Nor", "Sam", "Uli"]),
        ("planet:Mars", []),
        ("group", []),
    ],
)
def test_a_press_ticks_who_has_that_lesson_day_or_that_block_now(desk, studio, press, names):
    sam = makers.a_student(studio, name="Sam", lesson_day=1)
    for student in (makers.a_student(studio), makers.a_student(studio, name="Uli")):
        makers.a_block(student)
    makers.a_block(sam, plan=makers.a_plan(sam, hold=12))

    page = desk.post(ASSIGN, {"tick": press})

    assert ticked(page) == names


def test_a_block_that_is_over_ticks_nobody(desk, studio):
    nor = makers.a_student(studio)
    makers.a_block(nor, first_day=makers.today(studio) - timedelta(days=40))

    assert desk.get(ASSIGN).context["who"].by_block == []


def test_a_long_list_stands_under_the_groups(desk, studio):
    makers.a_student(studio, name="Ada", group="Town Band")
    makers.a_student(studio, name="Bo", group="Lower School")
    makers.a_student(studio, name="Cleo")

    headings = desk.get(ASSIGN).context["who"].headings

    assert [heading.words for heading in headings] == ["Lower School", "Town Band", "No group"]


def test_the_builder_asks_the_same_number_of_queries_for_three_as_for_sixty(
    desk, studio, django_assert_num_queries
):
    for number in range(60):
        student = makers.a_student(studio, name=f"Student {number}", group=f"Group {number % 4}")
        if number in {3, 30, 59}:
            makers.a_block(student)
            with django_assert_num_queries(8):
                assert desk.get(ASSIGN).status_code == 200


def test_a_grade_sets_counts_and_range_of_the_ticked_students_instrument(desk, studio):
    uli = makers.a_student(studio, name="Uli", instrument="horn_f")

    form = desk.post(ASSIGN, typed(uli, apply="grade:beginner", tempo="72")).context["form"]

    # The beginner's range of the horn is A3 to A4 in the grading table.
    named = [notes.name(int(form[name].value())) for name in ("low_note", "top_note")]
    assert named == ["A3", "A4"]
    assert (form["hold"].value(), form["rest"].value(), form["tempo"].value()) == (4, 4, "72")


def test_the_same_again_fills_in_what_the_one_student_played_last(desk, studio):
    nor = makers.a_student(studio)
    block = makers.a_block(nor, plan=makers.a_plan(nor, hold=10), length_days=21, weekdays_off=[2])

    form = desk.post(ASSIGN, typed(nor, apply="again", hold="5")).context["form"]

    assert (form["hold"].value(), form["length_days"].value()) == (10, 21)
    assert form["weekdays_off"].value() == ["2"]
    assert form["first_day"].value() == block.last_day + timedelta(days=1)


def test_the_same_again_for_several_gives_each_the_own_plan_when_the_own_ends(desk, studio):
    nor, uli = makers.a_student(studio), makers.a_student(studio, name="Uli", instrument="tuba_f")
    today = makers.today(studio)
    makers.a_block(nor, plan=makers.a_plan(nor, hold=12), aim="endurance")
    makers.a_block(uli, plan=makers.a_plan(uli, rest=4), first_day=today - timedelta(days=60))

    page = desk.post(ASSIGN, typed(nor, uli, apply="again"))
    assert [(row.student.name, row.plan.hold, row.plan.rest) for row in page.context["again"]] == [
        ("Nor", 12, 8), ("Uli", 8, 4),
    ]  # fmt: skip
    desk.post(ASSIGN, {"students": [nor.public_id, uli.public_id], "again": "on"})

    made = blocks()
    assert made["Nor"].first_day == today + timedelta(days=21)
    assert (made["Nor"].aim, made["Uli"].first_day) == ("endurance", today)
    with scopes_disabled():
        asked = BlockVersion.objects.filter(block__in=made.values()).order_by("block__student")
        assert [(row.hold, row.rest) for row in asked] == [(12, 8), (8, 4)]


def test_whoever_has_played_nothing_is_named_and_nobody_is_assigned(desk, studio):
    nor, sam = makers.a_student(studio), makers.a_student(studio, name="Sam")
    makers.a_block(nor)

    said = desk.post(ASSIGN, {"students": [nor.public_id, sam.public_id], "again": "on"})

    assert said.status_code == 422
    assert "Sam: no block yet, so there is nothing to play again." in said.content.decode()
    assert list(blocks()) == ["Nor"]


def test_what_was_typed_is_there_again_after_the_same_again(desk, studio):
    nor, sam = makers.a_student(studio), makers.a_student(studio, name="Sam")
    makers.a_block(nor)
    again = desk.post(ASSIGN, typed(nor, sam, apply="again", tempo="72", weekdays_off=["1", "2"]))

    kept: dict[str, Any] = {}
    for name, value in again.context["form"].kept:
        kept.setdefault(name, []).append(value)
    back = {"students": [nor.public_id, sam.public_id], "again": "on", "apply": "one-for-all"}
    form = desk.post(ASSIGN, kept | back).context["form"]

    assert (form["tempo"].value(), form["weekdays_off"].value()) == ("72", ["1", "2"])


def test_a_section_in_one_concert_pitch_reads_its_own_written_notes(desk, studio):
    players = [
        makers.a_student(studio, name="Ada"),
        makers.a_student(studio, name="Bo", instrument="horn_f"),
        makers.a_student(studio, name="Cleo", instrument="trombone_tenor"),
    ]

    desk.post(ASSIGN, typed(*players, pitch="concert", low_note=63))

    # Concert F for trumpet, horn and trombone, as in the table of tests/data.
    starts = {}
    with scopes_disabled():
        for row in BlockVersion.objects.select_related("block__student"):
            starts[row.block.student.name] = notes.name(row.start_note)
    assert starts == {"Ada": "G4", "Bo": "C5", "Cleo": "F3"}


def test_what_does_not_fit_is_said_by_name(desk, studio):
    ada, gro = (
        makers.a_student(studio, name="Ada"),
        makers.a_student(studio, name="Gro", instrument="horn_eb_alto"),
    )

    said = desk.post("/blocks/preview", typed(ada, gro, pitch="concert")).content.decode()

    assert "<bdi>Gro</bdi> (E-flat alto horn) ends 5 half steps sooner below" in said
    assert "<bdi>Ada</bdi> (B-flat trumpet) ends" not in said


def test_notes_in_concert_are_named_by_what_sounds(desk, studio):
    nor = makers.a_student(studio)

    page = desk.post(ASSIGN, typed(nor, apply="", pitch="concert"))

    assert "Concert F4, written G4 (usual start)" in page.content.decode()


@pytest.fixture
def three_with_blocks(studio) -> list[Student]:
    students = [makers.a_student(studio, name=name) for name in ("Ada", "Bo", "Cleo")]
    for student in students:
        makers.a_block(student)
    return students


def test_where_days_are_taken_each_student_is_asked_about_by_name(desk, three_with_blocks):
    page = desk.post(ASSIGN, typed(*three_with_blocks))

    said = page.content.decode()
    assert page.status_code == 422
    assert [field.label.split(",")[0] for field in page.context["form"].one_by_one] == [
        "Ada", "Bo", "Cleo",
    ]  # fmt: skip
    assert "Ada has a block to" in said


def test_each_student_can_have_an_answer_of_the_own(desk, studio, three_with_blocks):
    ada, bo, cleo = three_with_blocks
    today = makers.today(studio)
    answers = {
        "if_running": "after",
        f"if_running_{bo.public_id}": "replace",
        f"if_running_{cleo.public_id}": "skip",
        f"if_running_{ada.public_id}": "",
    }

    page = desk.post(ASSIGN, typed(*three_with_blocks, **answers), follow=True)

    begins = {row.student.name: row.first_day for row in page.context["blocks"]}
    assert begins == {"Ada": today + timedelta(days=21), "Bo": today}
    assert "Left out, because their days are taken: Cleo." in page.content.decode()


def test_who_has_no_answer_yet_is_asked_about_alone(desk, three_with_blocks):
    ada, _, cleo = three_with_blocks
    answers = {f"if_running_{row.public_id}": "replace" for row in (ada, cleo)}

    errors = desk.post(ASSIGN, typed(*three_with_blocks, **answers)).context["form"].errors

    assert len(errors["if_running"]) == 1
    assert errors["if_running"][0].startswith("Bo has a block to")
    assert "Ada" not in errors["if_running"][0]


def test_the_preview_says_whose_days_are_taken_before_anything_is_sent(desk, three_with_blocks):
    said = desk.post(
        "/blocks/preview", typed(*three_with_blocks), headers={"hx-request": "true"}
    ).content.decode()

    assert "These days are taken already: <bdi>Ada</bdi> to" in said
    assert 'id="taken" hx-swap-oob="true"' in said


def test_an_answer_that_is_being_given_is_not_asked_for_again(desk, three_with_blocks):
    asked = {"headers": {"hx-request": "true"}}
    first = desk.post("/blocks/preview", typed(*three_with_blocks), **asked)
    mark = first.context["form"].clash_mark

    same = desk.post("/blocks/preview", typed(*three_with_blocks, taken=mark), **asked)
    fewer = desk.post("/blocks/preview", typed(*three_with_blocks[:2], taken=mark), **asked)

    assert 'id="taken"' not in same.content.decode()
    assert 'id="taken" hx-swap-oob="true"' in fewer.content.decode()


def test_an_order_for_single_answers_is_taken_back_as_one(desk, studio, three_with_blocks):
    ada, bo, _ = three_with_blocks
    answers = {"if_running": "after", f"if_running_{bo.public_id}": "replace"}
    page = desk.post(ASSIGN, typed(ada, bo, **answers), follow=True)

    said = desk.post(f"/blocks/assigned/{page.context['batch']}/undo", follow=True)

    assert "Taken back: Ada, Bo." in said.content.decode()
    assert all(row.ended_on is None for row in blocks().values())
