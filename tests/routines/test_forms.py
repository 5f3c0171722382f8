"""The block builder's form and the student's: words for what cannot be, and nothing lost."""

import re
from datetime import date, timedelta

import pytest
from django.http import QueryDict
from django_scopes import scope

from routines.engine import instruments, notes
from routines.engine.dynamics import parse
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.plan import baseline
from routines.forms.blocks import AssignForm, begin_with
from routines.forms.plan import note_choices
from routines.forms.students import StudentForm
from studio.forms import NOTE_NAMINGS
from tests import makers

TODAY = date(2026, 11, 25)
FRAMEWORKS_WORDS = re.compile(r"Ensure|Select a valid|Enter |is required|not valid")


def typed(**changes: object) -> QueryDict:
    """Write the baseline of a B-flat trumpet as the builder sends it, with changes."""
    data = QueryDict(mutable=True)
    begun = begin_with(baseline(instruments.by_id("trumpet_bb")), first_day=TODAY)
    for name, value in (begun | changes).items():
        data.setlist(name, [str(one) for one in value] if isinstance(value, list) else [str(value)])
    return data


def a_form(choose_from=(), *, instrument="trumpet_bb", **changes: object) -> AssignForm:
    return AssignForm(
        typed(**changes),
        choose_from=list(choose_from),
        instrument=instrument,
        naming=Naming.LETTERS,
        setup=Setup(),
        today=TODAY,
    )


def test_what_the_builder_begins_with_is_the_baseline():
    form = a_form()

    assert form.is_valid(), form.errors
    assert form.plan == baseline(instruments.by_id("trumpet_bb"))
    assert form.month is not None
    assert (form.month.length_days, form.month.weekdays_off) == (28, frozenset({6}))


# The common numbers of the trade: common practice, no published source.
@pytest.mark.parametrize(("hold", "rest"), [(8, 8), (12, 8), (8, 4), (4, 4)])
def test_the_common_counts_are_allowed(hold, rest):
    form = a_form(hold=hold, rest=rest)

    assert form.is_valid()
    assert form.plan is not None
    assert (form.plan.hold, form.plan.rest) == (hold, rest)


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("hold", 99, "Hold 99 counts: choose 2 to 32."),
        ("hold", 1, "Hold 1 counts: choose 2 to 32."),
        ("rest", -1, "Rest -1 counts: choose 0 to 32."),
        ("tempo", 19, "Tempo 19: choose 20 to 240."),
        ("tempo", 241, "Tempo 241: choose 20 to 240."),
        ("length_days", 6, "Length 6 days: choose 7 to 62."),
        ("length_days", 63, "Length 63 days: choose 7 to 62."),
    ],
)
def test_a_number_outside_its_limits_is_named_with_them(field, value, words):
    form = a_form(**{field: value})

    assert form.errors.get(field) == [words]
    assert form[field].value() == str(value)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("hold", ""),
        ("hold", "eight"),
        ("rest", "8.5"),
        ("tempo", "1e3"),
        ("start_note", "999"),
        ("low_note", "H4"),
        ("top_note", "72; drop"),
        ("back", "sideways"),
        ("dynamics", "loudly"),
        ("first_day", "2026-02-30"),
        ("weekdays_off", ["7"]),
        ("weekdays_off", ["0", "1", "2", "3", "4", "5", "6"]),
        ("low_note", "74"),
        ("top_note", "60"),
        ("aim", "fame"),
        ("message", "x" * 501),
    ],
)
def test_what_is_no_answer_is_refused_beside_its_field(field, value):
    form = a_form(**{field: value})

    assert list(form.errors) == [field]
    assert not FRAMEWORKS_WORDS.search(str(form.errors))


@pytest.mark.parametrize(
    ("days", "valid"), [(-31, True), (-32, False), (0, True), (366, True), (367, False)]
)
def test_the_first_day_is_near_enough_to_be_meant(days, valid):
    form = a_form(first_day=TODAY + timedelta(days=days))

    assert form.is_valid() is valid


def test_an_open_top_is_no_note():
    form = a_form(top_note="open")

    assert form.is_valid()
    assert form.plan is not None
    assert form.plan.top_note is None


def test_dynamics_arrive_as_the_engines_own():
    form = a_form(dynamics="by-day:f,p")

    assert form.is_valid()
    assert form.cleaned_data["dynamics"] == parse("by-day:f,p")


@pytest.fixture
def studio(db):
    studio = makers.a_studio()
    with scope(studio=studio):
        yield studio


def test_nobody_ticked_is_said_beside_the_names(studio):
    form = a_form([makers.a_student(studio)])

    assert form.check_for_assigning() is False
    assert form.errors["students"] == ["Nobody is ticked: tick at least one student."]


def test_a_student_who_is_not_on_the_list_cannot_be_ticked(studio):
    stranger = makers.a_student(makers.a_studio())
    form = a_form([makers.a_student(studio)], students=[stranger.public_id])

    assert form.check_for_assigning() is False
    assert form.errors["students"] == [
        "A student you ticked is not on your list any more: look through the ticks again."
    ]


def test_taken_days_ask_once_what_shall_happen(studio):
    nor = makers.a_student(studio)
    makers.a_block(nor, first_day=TODAY - timedelta(days=7))
    form = a_form([nor], students=[nor.public_id])

    assert form.check_for_assigning() is False
    assert form.errors["if_running"] == ["Nor has a block to 15 December. Choose what happens."]


@pytest.mark.parametrize("choice", ["after", "replace", "skip"])
def test_an_answer_about_taken_days_lets_the_block_through(studio, choice):
    nor, sam = makers.a_student(studio), makers.a_student(studio, name="Sam")
    makers.a_block(nor, first_day=TODAY)
    ticked = [nor.public_id, sam.public_id]
    form = a_form([nor, sam], students=ticked, if_running=choice)

    assert form.check_for_assigning() is True


def test_leaving_out_everybody_is_no_order(studio):
    nor = makers.a_student(studio)
    makers.a_block(nor, first_day=TODAY)
    form = a_form([nor], students=[nor.public_id], if_running="skip")

    assert form.check_for_assigning() is False
    assert form.errors["if_running"] == ["This leaves out everybody you ticked: choose another."]


def test_two_of_one_name_are_told_apart_by_their_instruments(studio):
    nor = makers.a_student(studio)
    other = makers.a_student(studio, instrument="tuba_f")

    listed = a_form([nor, other])["students"].subwidgets

    assert [row.data["label"] for row in listed] == ["Nor, B-flat trumpet", "Nor, F tuba"]


def test_notes_are_listed_as_the_studio_names_them_with_their_octave():
    listed = dict(note_choices("trumpet_bb", Setup(), Naming.GERMAN))

    # In German B4 is H4 and B-flat 4 is B4: common practice, no published source.
    assert (listed["71"], listed["70"]) == ("H4", "B4")


def test_a_section_walks_the_same_way_each_from_their_own_start(studio):
    nor = makers.a_student(studio)
    uli = makers.a_student(studio, name="Uli", instrument="trombone_tenor")
    form = a_form([nor, uli], students=[nor.public_id, uli.public_id])

    assert form.check_for_assigning() is True
    # Trumpet G4 down to F#3; trombone F3 down to E2: both thirteen half steps, common practice.
    assert [(form.plan_for(one).start_note, form.plan_for(one).low_note) for one in (nor, uli)] == [
        (67, 54),
        (53, 40),
    ]


def a_student_form(**changes: str) -> StudentForm:
    data = {"name": "Nor", "instrument": "euphonium_bc", "grade": "open", "child": "no"} | changes
    return StudentForm(data, today=TODAY)


@pytest.mark.parametrize(
    ("valves", "columns"),
    [("", (None, None)), ("3", (False, None)), ("4", (True, True)), ("4-plain", (True, False))],
)
def test_the_valves_are_said_as_the_columns_do_and_back(valves, columns, studio):
    form = a_student_form(valves=valves)

    assert form.is_valid(), form.errors
    data = form.cleaned_data
    assert (data["four_valves"], data["compensating"]) == columns
    student = makers.a_student(studio, **data | {"lesson_day": None})
    assert StudentForm.initial_of(student).get("valves", "") == valves


def test_a_clef_the_instrument_is_not_read_in_is_refused_with_the_ones_it_is():
    form = a_student_form(instrument="trombone_tenor", clef="treble")

    assert form.errors == {
        "clef": ["Tenor trombone is not read in treble clef here: bass or tenor."]
    }


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("name", ""),
        ("name", "x" * 81),
        ("instrument", "kazoo"),
        ("grade", "expert"),
        ("child", ""),
        ("lesson_day", "7"),
        ("parent_email", "nobody"),
        ("consent_on", "yesterday"),
        ("note_naming", "numbers"),
    ],
)
def test_a_students_field_that_cannot_be_is_refused_beside_it(field, value):
    form = a_student_form(**{field: value})

    assert list(form.errors) == [field]
    assert not FRAMEWORKS_WORDS.search(str(form.errors))


@pytest.mark.parametrize("instrument", ["trumpet_bb", "horn_double_f_bb", "trombone_tenor"])
def test_a_choice_of_valves_is_refused_where_there_is_none(instrument):
    form = a_student_form(instrument=instrument, valves="4")

    assert list(form.errors) == ["valves"]
    assert "has no choice of valves here: choose As usual." in form.errors["valves"][0]


@pytest.mark.parametrize("instrument", ["baritone_tc", "euphonium_tc", "tuba_eb"])
def test_low_brass_has_a_choice_of_valves(instrument):
    assert a_student_form(instrument=instrument, valves="4").is_valid()


@pytest.mark.parametrize(("instrument", "valid"), [("trumpet_bb", False), ("trombone_bass", True)])
def test_an_f_attachment_belongs_to_a_trombone(instrument, valid):
    assert a_student_form(instrument=instrument, f_attachment="on").is_valid() is valid


def test_every_instrument_in_the_list_begins_with_a_capital():
    names = [str(row.data["label"]) for row in a_student_form()["instrument"].subwidgets]

    assert "Tenor trombone" in names
    assert [name for name in names if not name[0].isupper()] == []


def test_a_variant_fills_the_builder_with_its_counts():
    plan = baseline(instruments.by_id("horn_f"))

    begun = begin_with(plan, first_day=TODAY)

    assert (begun["hold"], begun["rest"], begun["tempo"]) == (8, 8, 60)
    assert (begun["top_note"], begun["dynamics"], begun["length_days"]) == ("open", "mf", 28)


@pytest.mark.parametrize("name", ["\u200b", "\u2060\u200b", "\u00a0\u3000"])
def test_a_name_that_nobody_could_see_is_refused(name):
    assert "name" in a_student_form(name=name).errors


@pytest.mark.parametrize(("naming", "label"), NOTE_NAMINGS)
def test_a_choice_of_note_names_shows_them_as_the_engine_does(naming, label):
    example = " ".join(notes.display(midi, Naming(naming)) for midi in (58, 59, 60))

    assert label.split(": ")[1].split(", said ")[0] == example
    if ", said " in label:
        assert label.endswith(", said " + notes.spoken(58, Naming(naming)).removesuffix(" 3"))


def test_every_system_of_note_names_is_offered():
    assert [naming for naming, _ in NOTE_NAMINGS] == list(Naming)
