"""What the engine takes in: what is refused in words, and from when a fact counts."""

import json
from copy import deepcopy
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from progress.engine import evidence_json
from progress.engine.check_in import Discomfort, Register
from progress.engine.evidence import (
    AssignedBlock,
    CheckIn,
    Evidence,
    EvidenceError,
    Lesson,
    OpenKind,
    OpenThing,
)
from routines.engine.variants import Aim

BLOCK = {"start": "2026-03-02", "days": 28, "notes": 27, "hold": 8, "rest": 8, "tempo": 60}
CHECK_IN = {"day": "2026-03-04", "filed": "2026-03-05", "ratings": [3, 4, None, 5]}
STUDENT = {
    "id": "Ida",
    "block": BLOCK,
    "checkins": [CHECK_IN],
    "lessons": [{"day": "2026-03-04", "ratings": [3, 3, 4, 4]}],
    "open": [{"kind": "away", "from": "2026-03-20", "to": None}],
}


def a_student(path, value):
    """Change one value of the example; a path is keys and places."""
    student: Any = deepcopy(STUDENT)
    *way, last = path
    place = student
    for step in way:
        place = place[step]
    place[last] = value
    return json.dumps(student)


def refusal(text):
    """Read a line: nothing, or the words in which it is refused."""
    try:
        evidence_json.parse(text)
    except EvidenceError as refused:
        return str(refused)
    return ""


def test_every_answer_is_read_where_it_belongs():
    row = {
        **CHECK_IN,
        "effort": 6,
        "minutes": 7.5,
        "completed": 0.9,
        "discomfort": "mild",
        "high": 12,
        "trouble": ["low"],
        "received": "2026-03-06",
        "planned": 180.0,
    }
    block = {**BLOCK, "top_target": 12, "aim": "clarity", "child": True, "dynamic": True}

    student = {**STUDENT, "block": block, "checkins": [row]}
    evidence = evidence_json.parse(json.dumps(student)).evidence

    assert evidence == Evidence(
        block=AssignedBlock(
            start=date(2026, 3, 2),
            days=28,
            notes=27,
            hold=8,
            rest=8,
            tempo=60,
            top_target=12,
            aim=Aim.CLARITY,
            child=True,
            contrasts=True,
        ),
        check_ins=(
            CheckIn(
                day=date(2026, 3, 4),
                filed=date(2026, 3, 5),
                ratings=(3, 4, None, 5),
                effort=6,
                minutes=7.5,
                completed=0.9,
                high=12,
                planned=180.0,
                discomfort=Discomfort.MILD,
                trouble=frozenset({Register.LOW}),
                received=date(2026, 3, 6),
            ),
        ),
        lessons=(Lesson(day=date(2026, 3, 4), ratings=(3, 3, 4, 4)),),
        open_things=(OpenThing(kind=OpenKind.AWAY, begins=date(2026, 3, 20)),),
    )


def test_what_is_left_out_is_not_answered():
    row = {"day": "2026-03-04", "filed": "2026-03-04"}
    text = json.dumps({"id": "Ida", "block": BLOCK, "checkins": [row], "lessons": []})

    (check_in,) = evidence_json.parse(text).evidence.check_ins

    assert check_in == CheckIn(day=date(2026, 3, 4), filed=date(2026, 3, 4))
    assert not check_in.is_rated
    assert check_in.trouble is None


BAD = {
    "hold too long": (("block", "hold"), 99, "block hold 99: choose 2 to 32."),
    "hold a fraction": (("block", "hold"), 8.5, "block hold 8.5: write a whole number."),
    "hold a text": (("block", "hold"), "8", 'block hold "8": write a number.'),
    "hold true": (("block", "hold"), True, "block hold true: write a number."),
    "hold huge": (("block", "hold"), 10**400, "block hold with so many digits: write a number."),
    "rest too long": (("block", "rest"), 33, "block rest 33: choose 0 to 32."),
    "tempo nought": (("block", "tempo"), 0, "block tempo 0: choose 20 to 240."),
    "no notes": (("block", "notes"), 0, "block notes 0: choose 1 to 200."),
    "no days": (("block", "days"), 0, "block days 0: choose 1 to 400."),
    "start missing": (("block", "start"), None, "block start is missing."),
    "no such day": (("block", "start"), "2026-02-30", 'block start "2026-02-30": write a day as'),
    "a day in short": (("block", "start"), "20260302", 'block start "20260302": write a day as'),
    "a day far off": (("block", "start"), "9999-12-31", "choose a year from 1900 to 2200."),
    "aim unknown": (("block", "aim"), "fame", 'block aim "fame": choose endurance, recovery'),
    "aim a list": (("block", "aim"), [], "block aim [...]: choose endurance, recovery"),
    "child a number": (("block", "child"), 1, "block child 1: write true or false."),
    "block a list": (("block",), [], "block is [...]: write an object"),
    "no block": (("block",), None, "block is missing."),
    "no id": (("id",), None, "id is missing."),
    "id a list": (("id",), [], "id [...]: write a text."),
    "check-ins an object": (("checkins",), {}, "checkins {...}: write a list"),
    "check-in a number": (("checkins", 0), 3, "check-in 1 is 3: write an object"),
    "three ratings": (("checkins", 0, "ratings"), [3, 3, 3], "check-in 1 ratings: write four"),
    "rating six": (("checkins", 0, "ratings", 1), 6, "check-in 1 ratings 6: choose 1 to 5."),
    "rating half": (("checkins", 0, "ratings", 1), 3.5, "ratings 3.5: write a whole number."),
    "effort eleven": (("checkins", 0, "effort"), 11, "check-in 1 effort 11: choose 0 to 10."),
    "minutes below nought": (("checkins", 0, "minutes"), -1, "minutes -1: choose 0 to 1440."),
    "more than all": (("checkins", 0, "completed"), 1.01, "completed 1.01: choose 0 to 1."),
    "discomfort unknown": (("checkins", 0, "discomfort"), "bad", "choose none, mild, pain."),
    "register unknown": (("checkins", 0, "trouble"), ["top"], "choose low, middle, high."),
    "trouble a word": (("checkins", 0, "trouble"), "low", 'trouble "low": write a list'),
    "filed missing": (("checkins", 0, "filed"), None, "check-in 1 filed is missing."),
    "lesson six": (("lessons", 0, "ratings"), [1, 2, 3, 6], "lesson 1 ratings 6: choose 1 to 5."),
    "target too high": (("block", "top_target"), 61, "block top_target 61: choose -60 to 60."),
    "note too low": (("checkins", 0, "high"), -61, "check-in 1 high -61: choose -60 to 60."),
    "planned too long": (("checkins", 0, "planned"), 86401, "planned 86401: choose 0 to 86400."),
    "kind unknown": (("open", 0, "kind"), "sad", "open thing 1 kind"),
    "kind missing": (("open", 0, "kind"), None, "open thing 1 kind is missing."),
}


@pytest.mark.parametrize("what", BAD)
def test_what_cannot_be_is_refused_in_words(what):
    path, value, message = BAD[what]

    with pytest.raises(EvidenceError) as refused:
        evidence_json.parse(a_student(path, value))

    assert message in str(refused.value)


DAYS = [
    *(("block", key) for key in ("start", "since")),
    *(("checkins", 0, key) for key in ("day", "filed", "received")),
    *(("lessons", 0, key) for key in ("day", "filed")),
    *(("open", 0, key) for key in ("from", "to")),
]


@pytest.mark.parametrize("path", DAYS, ids=["-".join(map(str, path)) for path in DAYS])
@pytest.mark.parametrize(
    ("day", "is_taken"),
    [
        ("1899-12-31", False),
        ("1900-01-01", True),
        ("2200-12-31", True),
        ("2201-01-01", False),
    ],
)
def test_every_day_lies_in_a_year_from_1900_to_2200(path, day, is_taken):
    words = refusal(a_student(path, day))

    assert words == "" if is_taken else f"{path[-1]} {day}: choose a year from 1900" in words


@pytest.mark.parametrize(
    ("path", "ends"),
    [
        (("block", "days"), (1, 400)),
        (("block", "notes"), (1, 200)),
        (("block", "hold"), (2, 32)),
        (("block", "rest"), (0, 32)),
        (("block", "tempo"), (20, 240)),
        (("block", "top_target"), (-60, 60)),
        (("checkins", 0, "effort"), (0, 10)),
        (("checkins", 0, "minutes"), (0, 24 * 60)),
        (("checkins", 0, "completed"), (0, 1)),
        (("checkins", 0, "high"), (-60, 60)),
        (("checkins", 0, "planned"), (0, 24 * 60 * 60)),
        (("checkins", 0, "ratings", 0), (1, 5)),
        (("lessons", 0, "ratings", 0), (1, 5)),
    ],
)
def test_both_ends_of_a_limit_are_taken_and_what_lies_beyond_is_not(path, ends):
    lowest, highest = ends

    assert [refusal(a_student(path, end)) for end in ends] == ["", ""]
    for beyond in (lowest - 1, highest + 1):
        assert f"{beyond}: choose {lowest} to {highest}." in refusal(a_student(path, beyond))


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (20260302, "20260302"),
        (10**30, "1" + "0" * 29 + "..."),
        (10**30 + 1, "with so many digits"),
        (-(10**30) - 1, "with so many digits"),
        ("x" * 28, '"' + "x" * 28 + '"'),
        ("x" * 29, '"' + "x" * 29 + "..."),
        (True, "true"),
        ({}, "{...}"),
        ([], "[...]"),
    ],
)
def test_what_was_given_is_shown_in_thirty_characters(value, shown):
    words = refusal(a_student(("block", "start"), value))

    assert words.partition(": ")[0] == f"block start {shown}"


def test_what_is_missing_in_the_line_itself_goes_by_its_own_name():
    assert refusal(a_student(("id",), None)) == "id is missing."
    assert refusal(a_student(("checkins", 0, "filed"), None)) == "check-in 1 filed is missing."


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ("null", "the line is null: write an object"),
        ("[" * 100_000, "nested too deeply"),
        ('{"id": NaN}', "not JSON: NaN is no number."),
        ('{"id": -Infinity}', "not JSON: -Infinity is no number."),
        (f'{{"id": {"9" * 5000}}}', "too many digits"),
        ('{"id": "x", "block": {"start": "2026-03-02", "days": 1e999}}', "days Infinity"),
    ],
)
def test_what_is_no_object_of_a_student_is_refused_in_words(text, message):
    with pytest.raises(EvidenceError) as refused:
        evidence_json.parse(text)

    assert message in str(refused.value)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=6,
)
PLACES = [
    *((key,) for key in STUDENT),
    *(("block", key) for key in (*BLOCK, "top_target", "aim", "child", "dynamic", "since")),
    *(
        ("checkins", 0, key)
        for key in (*CHECK_IN, "effort", "minutes", "completed", "discomfort", "high")
    ),
    *(("checkins", 0, key) for key in ("trouble", "received", "planned")),
    *(("lessons", 0, key) for key in ("day", "ratings", "filed")),
    *(("open", 0, key) for key in ("kind", "from", "to")),
    *(("checkins", 0), ("checkins", 0, "ratings", 0), ("lessons", 0), ("open", 0)),
]


@given(st.sampled_from(PLACES), ANYTHING)
def test_anything_anywhere_is_read_or_refused_in_one_short_line(path, value):
    message = refusal(a_student(path, value))

    assert "\n" not in message
    assert len(message) < 200


@pytest.mark.parametrize(
    ("filed", "received", "known"),
    [(4, None, 4), (6, None, 6), (4, 9, 9), (6, 6, 6), (3, None, 4)],
)
def test_a_check_in_counts_from_the_day_it_arrived_and_never_before_its_own(filed, received, known):
    row = CheckIn(
        day=date(2026, 3, 4),
        filed=date(2026, 3, filed),
        received=received and date(2026, 3, received),
    )

    assert row.known_on == date(2026, 3, known)


@pytest.mark.parametrize(("filed", "known"), [(None, 4), (3, 4), (4, 4), (6, 6)])
def test_a_lesson_counts_from_the_day_it_was_filed_and_never_before_its_own(filed, known):
    lesson = Lesson(
        day=date(2026, 3, 4), ratings=(4, 4, 4, 4), filed=filed and date(2026, 3, filed)
    )

    assert lesson.known_on == date(2026, 3, known)


@pytest.mark.parametrize(
    ("effort", "minutes", "load"), [(6, 7.5, 45), (None, 10, 0), (6, None, 0), (None, None, 0)]
)
def test_load_is_effort_times_minutes_where_both_were_answered(effort, minutes, load):
    day = date(2026, 3, 4)

    assert CheckIn(day=day, filed=day, effort=effort, minutes=minutes).load == load


@pytest.mark.parametrize(
    ("since", "first"), [(None, 2), (date(2026, 2, 20), 2), (date(2026, 3, 9), 9)]
)
def test_the_evidence_begins_anew_after_a_change_of_the_mouth_once_it_has_come(since, first):
    block = AssignedBlock(
        start=date(2026, 3, 2), days=28, notes=27, hold=9, rest=3, tempo=90, since=since
    )

    assert block.first_day_on(date(2026, 3, 9)) == date(2026, 3, first)
    assert block.first_day_on(date(2026, 3, 8)) == date(2026, 3, 2)
    # 27 notes of 9 counts at 90; nine of twelve counts are played.
    assert (block.hold_seconds, block.duty) == (162, 0.75)
    assert block.last_day == date(2026, 3, 29)


@pytest.mark.parametrize(("day", "is_open"), [(3, False), (4, True), (6, True), (7, False)])
def test_a_thing_is_open_on_both_its_ends(day, is_open):
    thing = OpenThing(kind=OpenKind.ILL, begins=date(2026, 3, 4), ends=date(2026, 3, 6))

    assert thing.is_open_on(date(2026, 3, day)) == is_open
