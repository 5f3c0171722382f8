"""Two students of one name and one instrument do not look alike in a list."""

import pytest

from studio.queries import told_apart
from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def studio(teacher):
    return makers.studio_of(teacher)


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ({"group": "School"}, {"group": "Town band"}, ["School", "Town band"]),
        ({"group": "School", "lesson_day": 0}, {"group": "School", "lesson_day": 1},
         ["lesson on Monday", "lesson on Tuesday"]),
        ({"group": "School"}, {"lesson_day": 4}, ["School", ""]),
        ({"lesson_day": 0}, {}, ["lesson on Monday", ""]),
        ({"group": "School"}, {"group": "School"}, ["", ""]),
        ({"group": "School"}, {"group": "Town band", "instrument": "tuba_f"}, ["", ""]),
        ({"group": "School"}, {"group": "Town band", "name": "Ada"}, ["", ""]),
        ({"group": "School"}, {"group": "Town band", "name": "nor "}, ["School", "Town band"]),
    ],
)  # fmt: skip
def test_what_differs_tells_them_apart(studio, first, second, words):
    students = [makers.a_student(studio, **values) for values in (first, second)]

    apart = told_apart(students)

    assert [apart.get(student.pk, "") for student in students] == words


def test_of_three_the_group_and_the_day_together_tell_all_apart(studio):
    kinds = [("School", 0), ("School", 1), ("Town band", 0)]
    students = [makers.a_student(studio, group=group, lesson_day=day) for group, day in kinds]

    apart = told_apart(students)

    assert [apart[student.pk] for student in students] == [
        "School, lesson on Monday", "School, lesson on Tuesday", "Town band, lesson on Monday",
    ]  # fmt: skip


@pytest.mark.parametrize("page", ["/overview", "/blocks/assign"])
def test_the_overview_and_the_builder_say_it_beside_the_instrument(teacher, studio, page):
    for group in ("School", "Town band"):
        makers.a_student(studio, group=group)

    shown = makers.signed_in(teacher).get(page).content.decode().replace("<bdi>", "")

    for group in ("School", "Town band"):
        assert f"-flat trumpet, {group}<" in shown


def test_lessons_and_phones_say_it_too(teacher, studio):
    for group in ("School", "Town band"):
        student = makers.a_student(studio, group=group, lesson_day=1)
        makers.a_block(student)
        makers.a_grant(student, state=GrantState.PROVISIONAL)
    desk = makers.signed_in(teacher)

    for page in ("/lessons?weekday=1", "/overview", "/settings/phones"):
        shown = desk.get(page).content.decode()
        aside = shown.partition("Phones to confirm")[2] or shown
        assert all(f"<bdi>{group}</bdi>" in aside for group in ("School", "Town band")), page


def test_where_no_instrument_is_shown_the_name_alone_decides(studio):
    horn = makers.a_student(studio, group="School", instrument="horn_f")
    tuba = makers.a_student(studio, group="Town band", instrument="tuba_f")

    assert told_apart([horn, tuba]) == {}
    apart = told_apart([horn, tuba], by_name_alone=True)
    assert apart == {horn.pk: "School", tuba.pk: "Town band"}


def test_the_list_of_students_says_it_beside_the_name_those_who_left_too(teacher, studio):
    makers.a_student(studio, group="School")
    makers.a_student(studio, group="Town band", archived_on=makers.today(studio))

    shown = makers.signed_in(teacher).get("/students").content.decode().replace("<bdi>", "")

    assert 'Nor</bdi></a> <span class="soft">School<' in shown
    assert "-flat trumpet, Town band<" in shown
