"""A studio's templates: saved from the builder, used as copies, renamed, deleted, put back."""

from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from routines.engine import notes
from routines.engine.section import Pitch
from routines.forms.begin import begin_with
from routines.models import BlockVersion, Template
from routines.queries import templates
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


def typed(student, **changes: Any) -> dict[str, Any]:
    begun = begin_with(makers.a_plan(student), first_day=makers.today(student.studio))
    return begun | {"students": [student.public_id]} | changes


def names(studio) -> list[str]:
    with scope(studio=studio):
        return [template.name for template in templates()]


def test_a_block_is_saved_as_a_template_and_the_builder_goes_on(desk, studio):
    nor = makers.a_student(studio)

    page = desk.post(ASSIGN, typed(nor, hold=6, aim="clarity", save="on", called="Six counts"))

    with scopes_disabled():
        kept = Template.objects.get()
    assert (kept.name, kept.hold, kept.aim, kept.studio) == ("Six counts", 6, "clarity", studio)
    assert "Saved as “<bdi>Six counts</bdi>”" in page.content.decode()
    assert (page.context["form"]["hold"].value(), page.context["form"].chosen) == ("6", [nor])


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"called": ""}, "It has no name yet"),
        ({"called": "horns in AUTUMN"}, "You have a template “horns in AUTUMN” already"),
        ({"called": "x" * 61}, "61 letters: keep to 60."),
        ({"called": "Good", "hold": 99}, "Hold 99 counts: choose 2 to 32."),
    ],
)
def test_what_cannot_be_saved_is_said_and_nothing_typed_is_lost(desk, studio, changes, words):
    makers.a_template(studio, name="Horns in autumn")
    nor = makers.a_student(studio)

    page = desk.post(ASSIGN, typed(nor, save="on", message="Breathe low.", **changes))

    assert page.status_code == 422
    assert words in page.content.decode()
    assert page.context["form"]["message"].value() == "Breathe low."
    assert page.context["keep"]["called"].value() == changes["called"]
    assert names(studio) == ["Horns in autumn"]


def test_a_template_fills_the_builder_with_the_notes_of_the_ticked_students_instrument(
    desk, studio
):
    kept = makers.a_template(studio, plan=makers.a_plan(hold=6, low_note=60), length_days=35)
    uli = makers.a_student(studio, name="Uli", instrument="trombone_tenor")

    form = desk.post(ASSIGN, typed(uli, apply=f"template:{kept.public_id}")).context["form"]

    # C4 is seven half steps under the trumpet's start, as B flat 2 is under the trombone's.
    assert notes.name(int(form["low_note"].value())) == "Bb2"
    assert (form["hold"].value(), form["length_days"].value()) == (6, 35)


def test_a_template_in_one_concert_pitch_stays_so_on_another_instrument(desk, studio):
    kept = makers.a_template(studio, pitch=Pitch.CONCERT)
    uli = makers.a_student(studio, name="Uli", instrument="horn_f")

    form = desk.post(ASSIGN, typed(uli, apply=f"template:{kept.public_id}")).context["form"]

    assert notes.name(int(form["start_note"].value())) == "C5"
    assert form["pitch"].value() == "concert"


def test_a_change_of_a_template_changes_no_block_made_from_it(desk, studio):
    kept = makers.a_template(studio, plan=makers.a_plan(hold=6))
    nor = makers.a_student(studio)
    begun = desk.post(ASSIGN, typed(nor, apply=f"template:{kept.public_id}")).context["form"]
    desk.post(ASSIGN, typed(nor, hold=begun["hold"].value()))

    desk.post(f"/templates/{kept.public_id}/name", {"called": "Another name"})
    desk.post(f"/templates/{kept.public_id}/delete")

    with scopes_disabled():
        assert BlockVersion.objects.get().hold == 6
    assert names(studio) == []


def test_a_deleted_template_is_put_back_within_ten_minutes(desk, studio):
    kept = makers.a_template(studio)
    desk.post(f"/templates/{kept.public_id}/delete")
    assert "Deleted just now" in desk.get("/templates").content.decode()

    desk.post(f"/templates/{kept.public_id}/put-back")

    assert names(studio) == ["Horns in autumn"]


def test_after_ten_minutes_a_deleted_template_is_gone(desk, studio):
    late = timezone.now() - timedelta(minutes=11)
    kept = makers.a_template(studio, removed_at=late)

    said = desk.post(f"/templates/{kept.public_id}/put-back", follow=True).content.decode()

    assert "over ten minutes ago" in said
    assert "Deleted just now" not in said
    desk.post(f"/templates/{makers.a_template(studio).public_id}/delete")
    with scopes_disabled():
        assert not Template.objects.filter(pk=kept.pk).exists()


def test_a_template_is_not_put_back_over_another_of_its_name(desk, studio):
    gone = makers.a_template(studio, removed_at=timezone.now())
    makers.a_template(studio)

    said = desk.post(f"/templates/{gone.public_id}/put-back", follow=True).content.decode()

    assert "You have a template “Horns in autumn” already" in said


def test_a_name_that_is_taken_is_refused_with_what_was_typed(desk, studio):
    makers.a_template(studio)
    other = makers.a_template(studio, name="Low brass")

    page = desk.post(f"/templates/{other.public_id}/name", {"called": "Horns in autumn"})

    assert page.status_code == 422
    assert page.context["form"]["called"].value() == "Horns in autumn"
    assert names(studio) == ["Horns in autumn", "Low brass"]


def test_a_template_of_another_studio_begins_nothing(desk, studio):
    foreign = makers.a_template(makers.a_studio(), plan=makers.a_plan(hold=30))

    page = desk.post(ASSIGN, typed(makers.a_student(studio), apply=f"template:{foreign.public_id}"))

    assert page.context["form"]["hold"].value() == "8"
    assert page.context["templates"] == []


def test_two_studios_may_use_one_name(studio):
    makers.a_template(studio)

    makers.a_template(makers.a_studio())

    assert names(studio) == ["Horns in autumn"]


def test_notes_only_a_fourth_valve_gives_are_kept_as_the_usual_instrument_has_them(desk, studio):
    bo = makers.a_student(studio, name="Bo", instrument="baritone_bc", four_valves=True)
    low = notes.parse("D2")

    desk.post(ASSIGN, typed(bo, low_note=low, save="on", called="Low"))

    with scopes_disabled():
        assert notes.name(Template.objects.get().plan.low_note) == "E2"
