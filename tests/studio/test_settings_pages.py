"""The pages of the settings: what is saved has its effect, and only that is said."""

import pytest
from django.apps import apps
from django.db.models import GenericIPAddressField
from django.urls import reverse
from django_scopes import scope

from progress.engine.parameters import BY_CAUTION
from progress.engine.parameters import Caution as CautionOfTheEngine
from studio.models import Grant, Studio
from studio.words import Caution, GrantState, Role
from tests import makers

pytestmark = pytest.mark.django_db
OURS = ("studio.", "routines.", "progress.")


@pytest.fixture
def studio():
    return makers.a_studio()


@pytest.fixture
def teacher(studio):
    return makers.a_teacher(studio, name="Runa")


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.mark.parametrize(
    ("place", "field", "value"),
    [("assessment", "caution", "strict"), ("privacy", "keep_months", 36)],
)
def test_a_setting_of_the_studio_is_saved_and_said_so(desk, studio, place, field, value):
    answer = desk.post(reverse(f"studio:settings_{place}"), {field: value}, follow=True)

    assert "Saved." in answer.content.decode()
    assert getattr(Studio.objects.get(pk=studio.pk), field) == value


@pytest.mark.parametrize("value", ["11", "61", "-1", "1e308", "years", "9" * 30])
def test_months_out_of_bounds_are_refused_and_kept_in_the_field(desk, studio, value):
    page = desk.post(reverse("studio:settings_privacy"), {"keep_months": value})

    assert "Not saved yet. What you typed is still here." in page.content.decode()
    assert f'value="{value}"' in page.content.decode()
    assert Studio.objects.get(pk=studio.pk).keep_months == 24


def test_the_words_of_the_setting_are_those_of_the_engine():
    assert {one.value for one in Caution} == {one.value for one in CautionOfTheEngine}


# The figures stand in words on the page, so they must not drift from those that are used.
@pytest.mark.parametrize(("word", "enter", "leave"), [
    ("bold", "65 %", "45 %"), ("usual", "75 %", "50 %"), ("strict", "85 %", "60 %"),
])  # fmt: skip
def test_the_page_says_the_figures_that_are_used(desk, word, enter, leave):
    used = BY_CAUTION[CautionOfTheEngine(word)]
    page = desk.get(reverse("studio:settings_assessment")).content.decode()

    assert (f"{used.enter:.0%}", f"{used.leave:.0%}") == (
        enter.replace(" ", ""), leave.replace(" ", ""),
    )  # fmt: skip
    assert enter in page
    assert leave in page


def test_how_sure_the_program_has_to_be_changes_what_a_student_page_says(desk, studio):
    student = makers.a_student(studio)
    makers.a_check_in(student)
    page = f"/students/{student.public_id}"
    usual = desk.get(page).content.decode()

    desk.post(reverse("studio:settings_assessment"), {"caution": "strict"})
    strict = desk.get(page).content.decode()

    assert "at least 75 % likely at your 4" in usual
    assert "at least 85 % likely at your 4" in strict


@pytest.mark.parametrize("look", ["dark", "light"])
def test_the_look_is_the_teachers_own(desk, studio, look):
    other = makers.signed_in(makers.a_teacher(studio))

    desk.post(reverse("studio:settings_look"), {"look": look})

    assert f'data-theme="{look}"' in desk.get("/overview").content.decode()
    assert "data-theme" not in other.get("/overview").content.decode()


def test_a_cover_teacher_chooses_a_look_and_no_setting(studio):
    cover = makers.signed_in(makers.a_teacher(studio, role=Role.COVER))

    assert cover.post(reverse("studio:settings_look"), {"look": "dark"}).status_code == 302
    assert cover.post(reverse("studio:settings_privacy"), {"keep_months": 12}).status_code == 403


def states(studio):
    with scope(studio=studio):
        return sorted(Grant.objects.values_list("state", flat=True))


def test_every_phone_of_the_studio_stands_on_one_page(desk, studio):
    for name in ("Nor", "Sam"):
        makers.a_grant(makers.a_student(studio, name=name), label=f"{name}'s own phone")
    makers.a_grant(makers.a_student(makers.a_studio()), label="Foreign phone")
    makers.a_grant(makers.a_student(studio), state=GrantState.ENDED, label="Old phone")

    page = desk.get(reverse("studio:settings_phones")).content.decode()

    assert (page.count("own phone</p>"), "Foreign" in page, "Old phone" in page) == (
        2, False, False,
    )  # fmt: skip


def test_a_phone_signed_out_there_leads_back_there(desk, studio):
    grant = makers.a_grant(makers.a_student(studio)).grant

    answer = desk.post(
        reverse("studio:answer_phone", args=[grant.public_id, "sign-out"]), {"from": "settings"}
    )

    assert answer.headers["Location"] == reverse("studio:settings_phones")
    assert states(studio) == [GrantState.ENDED]


def test_all_phones_go_out_after_a_yes_and_the_other_studios_stay(desk, studio):
    makers.a_grant(makers.a_student(studio))
    elsewhere = makers.a_studio()
    makers.a_grant(makers.a_student(elsewhere))

    refused = desk.post(reverse("studio:sign_out_studio"), follow=True)
    assert "Nothing was signed out: tick the box first." in refused.content.decode()
    assert states(studio) == [GrantState.CONFIRMED]
    desk.post(reverse("studio:sign_out_studio"), {"sure": "on"})

    assert (states(studio), states(elsewhere)) == ([GrantState.ENDED], [GrantState.CONFIRMED])


def test_many_phones_take_no_more_queries_than_one(desk, studio, django_assert_num_queries):
    makers.a_grant(makers.a_student(studio))
    desk.get(reverse("studio:settings_phones"))
    with django_assert_num_queries(5):
        desk.get(reverse("studio:settings_phones"))
    for _ in range(4):
        makers.a_grant(makers.a_student(studio))

    with django_assert_num_queries(5):
        desk.get(reverse("studio:settings_phones"))


def test_the_privacy_page_names_the_internet_address_and_no_row_of_ours_holds_one(desk):
    page = desk.get(reverse("studio:settings_privacy")).content.decode()
    ours = [model for model in apps.get_models() if model.__module__.startswith(OURS)]
    holding = [
        field
        for model in ours
        for field in model._meta.get_fields()
        if isinstance(field, GenericIPAddressField)
    ]

    assert "the internet address (IP address) it came from" in page
    assert Grant in ours
    assert holding == []
