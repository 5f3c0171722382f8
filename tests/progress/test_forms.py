"""The check-in's form: nothing filled in beforehand, nothing made up afterwards."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django import forms

from progress.forms.answers import RatingsForm
from progress.forms.check_ins import CheckInForm, HurtForm
from tests import makers

TODAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
FIVE = ("attack", "sound", "evenness", "release", "effort")


def a_form(data: dict[str, str] | None = None, /, **changes: object) -> CheckInForm:
    typed = makers.the_answers(day=TODAY) if data is None else data
    return CheckInForm(
        typed | {name: str(value) for name, value in changes.items()},
        days=[TODAY, TODAY - timedelta(days=1)],
        high_notes=[("72", "C"), ("79", "G")],
        moment=NOW,
    )


def test_a_fresh_form_answers_nothing_beforehand():
    form = CheckInForm(None, days=[TODAY], high_notes=[], moment=NOW)

    filled = {name for name in form.fields if form[name].value() not in (None, "", [], False)}
    assert filled == {"key", "day"}


def test_two_fresh_forms_have_two_keys():
    first, second = (CheckInForm(None, days=[], high_notes=[], moment=NOW) for _ in range(2))

    assert first["key"].value() != second["key"].value()


def offered(form: forms.Form, name: str) -> list[str]:
    return [str(one.data["value"]) for one in form[name].subwidgets]


def as_it_is(field: forms.Field) -> dict[str, object]:
    """Write down all that a field holds, and all that its widget holds."""
    own = {name: repr(value) for name, value in vars(field).items() if name != "widget"}
    offered = [*map(str, getattr(field, "choices", []))]
    attributes = {f"widget.{name}": repr(value) for name, value in vars(field.widget).items()}
    return {**own, **attributes, "offered": offered}


def test_two_forms_share_what_neither_changes_and_leave_it_as_it_was():
    """Forms have their own days and notes; the other fields are one for all of them."""
    before = {name: as_it_is(field) for name, field in CheckInForm.base_fields.items()}

    first, second = a_form(), a_form(None, day=TODAY - timedelta(days=1), sound="6", hurt="yes")
    another = CheckInForm(None, days=[], high_notes=[], moment=NOW)
    for form in (first, second, another):
        form.is_valid()
        str(form)
        form.with_a_new_key() if form.is_bound else None

    own = {
        name for name, field in first.fields.items() if field is not CheckInForm.base_fields[name]
    }
    assert own == {"day", "high_note"}
    assert offered(first, "day") == ["2026-11-25", "2026-11-24"]
    assert offered(another, "day") == []
    after = {name: as_it_is(field) for name, field in CheckInForm.base_fields.items()}
    assert after == before


def buttons(form: forms.Form, name: str) -> list[str]:
    return [button.choice_label for button in form[name].subwidgets]


def test_the_four_questions_and_their_buttons_are_those_of_a_lesson_rating():
    check_in, lesson = a_form(), RatingsForm()

    for name in lesson.fields:
        assert check_in[name].label == lesson[name].label
        assert buttons(check_in, name) == buttons(lesson, name)
    assert buttons(lesson, "sound") == ["0–3", "4–5", "6–7", "8–9", "10"]


@pytest.mark.parametrize("missing", FIVE)
def test_a_missing_answer_is_asked_for_once_with_a_way_to_save_anyway(missing):
    form = a_form(**{missing: ""})

    assert form.errors == {missing: ["Pick one."]}
    assert form.may_save_anyway is True


def test_an_answer_that_no_button_sends_is_named_and_not_called_missing_as_well():
    form = a_form(sound="6", effort="")

    assert form.errors["effort"] == ["Pick one."]
    assert len(form.errors["sound"]) == 1
    assert form.errors["sound"] != ["Pick one."]


def test_saved_anyway_a_missing_answer_stays_missing():
    form = a_form(sound="", effort="", hurt="anyway")

    assert form.is_valid(), form.errors
    assert (form.answers["sound"], form.answers["effort"], form.answers["attack"]) == (
        None,
        None,
        4,
    )


def test_nothing_is_saved_before_one_of_the_two_last_buttons():
    form = a_form(hurt="")

    assert form.errors == {"hurt": ["Did something hurt? Press one of the two last buttons."]}


def test_somebody_who_is_hurting_is_asked_only_how_much():
    form = a_form(dict.fromkeys(FIVE, "") | {"hurt": "yes", "day": str(TODAY)}, key=NOW_KEY)

    assert form.errors == {"how_much": ["Pick one."]}


NOW_KEY = "7b0f9c1e-8a51-4f6e-9a3c-2f5a3f1f7a11"


@pytest.mark.parametrize("how_much", ["mild", "pain"])
def test_what_hurt_is_stored_with_its_place(how_much):
    form = a_form(hurt="yes", how_much=how_much, place="lips")

    assert form.is_valid(), form.errors
    assert (form.answers["discomfort"], form.answers["place"]) == (how_much, "lips")


def test_nothing_hurt_forgets_what_was_picked_before():
    form = a_form(hurt="no", how_much="pain", place="lips")

    assert form.is_valid()
    assert (form.answers["discomfort"], form.answers["place"]) == ("none", "")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("attack", "0"),
        ("attack", "6"),
        ("sound", "four"),
        ("effort", "5"),
        ("place", "knee"),
        ("high_note", "71"),
        ("stopped_because", "bored"),
        ("completed", "0.9"),
        ("trouble", "everywhere"),
        ("words", "x" * 501),
        ("day", "2026-11-23"),
        ("day", "2026-11-26"),
        ("day", "today"),
        ("key", "1"),
        ("seconds", "-1"),
        ("seconds", "36001"),
        ("share", "1.1"),
        ("share", "nan"),
        ("utc_offset_minutes", "901"),
    ],
)
def test_what_no_button_sends_is_refused(field, value):
    form = a_form(**{"hurt": "anyway", field: value})

    assert field in form.errors


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("2026-11-25T17:30:00+00:00", datetime(2026, 11, 25, 17, 30, tzinfo=UTC)),
        ("2026-11-25T18:30:00+01:00", datetime(2026, 11, 25, 17, 30, tzinfo=UTC)),
        ("2026-11-25T18:10:00Z", datetime(2026, 11, 25, 18, 10, tzinfo=UTC)),
        ("2026-11-25T18:10:01Z", NOW),
        ("2026-11-10T18:00:00Z", datetime(2026, 11, 10, 18, 0, tzinfo=UTC)),
        ("2026-11-10T17:59:59Z", NOW),
        ("2026-11-25T17:30:00", NOW),
        ("0001-01-01T00:00:00+14:00", NOW),
        ("9999-12-31T23:59:59-14:00", NOW),
        ("half past five", NOW),
        ("", NOW),
    ],
)
def test_the_phones_time_is_taken_if_it_can_be_true(said, kept):
    form = a_form(done_at=said)

    assert form.is_valid(), form.errors
    assert form.cleaned_data["done_at"] == kept


@pytest.mark.parametrize(
    ("completed", "share", "kept"),
    [("", "", None), ("", "1", 1.0), ("", "0.7", 0.7), ("0.5", "1", 0.5), ("1.0", "0.7", 1.0)],
)
def test_how_much_was_played_is_what_was_said_else_the_share_of_the_session(completed, share, kept):
    form = a_form(completed=completed, share=share)

    assert form.is_valid(), form.errors
    assert form.answers["completed"] == kept


def test_what_the_session_sends_when_something_hurts_needs_only_its_key():
    assert HurtForm({"key": NOW_KEY}).is_valid()
    assert not HurtForm({"step": "3"}).is_valid()
