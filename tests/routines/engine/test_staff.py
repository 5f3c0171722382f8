"""Where notes stand: staff places of the three clefs, common notation (music21 as reference)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import clef as music21_clef
from music21 import pitch

from routines.engine import notes, staff
from routines.engine.instruments import INSTRUMENTS, Clef, chart, clef
from routines.engine.notes import Naming

MUSIC21 = {
    Clef.TREBLE: music21_clef.TrebleClef,
    Clef.BASS: music21_clef.BassClef,
    Clef.TENOR: music21_clef.TenorClef,
}


def _draw(name, which, **more):
    return staff.draw([notes.parse(name)], which, **more)


# music21 counts a clef's lowest line in diatonic steps from C0 = 1.
@pytest.mark.parametrize("which", Clef)
def test_the_bottom_line_is_the_note_music21_has_there(which):
    bottom = pitch.Pitch()
    bottom.diatonicNoteNum = MUSIC21[which]().lowestLine

    picture = staff.draw([bottom.midi], which)

    assert picture.notes[0].y == picture.line_ys[-1]
    assert picture.notes[0].ledger_ys == ()


# Each clef names one line: G second from below, F fourth, middle C fourth.
@pytest.mark.parametrize(
    ("which", "name", "line_from_below"),
    [(Clef.TREBLE, "G4", 2), (Clef.BASS, "F3", 4), (Clef.TENOR, "C4", 4)],
)
def test_the_clef_stands_on_the_line_it_names(which, name, line_from_below):
    picture = _draw(name, which)

    assert picture.clef_y == picture.line_ys[-line_from_below] == picture.notes[0].y


@pytest.mark.parametrize(
    ("name", "which", "lines"),
    [
        ("C4", Clef.TREBLE, 1),
        ("D4", Clef.TREBLE, 0),
        ("F#3", Clef.TREBLE, 3),
        ("G5", Clef.TREBLE, 0),
        ("A5", Clef.TREBLE, 1),
        ("C6", Clef.TREBLE, 2),
        ("E2", Clef.BASS, 1),
        ("C4", Clef.BASS, 1),
        ("F4", Clef.TENOR, 0),
        ("D5", Clef.TENOR, 3),
    ],
)
def test_a_note_outside_the_staff_has_its_ledger_lines(name, which, lines):
    picture = _draw(name, which)
    note = picture.notes[0]

    assert len(note.ledger_ys) == lines
    assert not set(note.ledger_ys) & set(picture.line_ys)
    assert note.ledger_x1 < note.x < note.ledger_x2


# Ledger lines go on from the staff, one staff space apart: common notation.
@pytest.mark.parametrize(
    ("name", "which", "spaces"),
    [
        ("F#3", Clef.TREBLE, (1, 2, 3)),
        ("C4", Clef.TREBLE, (1,)),
        ("C6", Clef.TREBLE, (-1, -2)),
        ("E4", Clef.BASS, (-1, -2)),
        ("D5", Clef.TENOR, (-1, -2, -3)),
    ],
)
def test_ledger_lines_go_on_from_the_staff(name, which, spaces):
    picture = _draw(name, which)
    edge = picture.line_ys[-1] if spaces[0] > 0 else picture.line_ys[0]

    assert picture.notes[0].ledger_ys == tuple(edge + 10 * away for away in spaces)


@pytest.mark.parametrize("name", ["F#3", "C4", "A5", "E6"])
def test_a_note_outside_the_staff_has_two_spaces_of_room_and_no_more(name):
    picture = _draw(name, Clef.TREBLE)
    y = picture.notes[0].y

    is_over = y < picture.line_ys[0]

    assert (y if is_over else picture.height - y) == 20
    assert (picture.height - picture.line_ys[-1] if is_over else picture.line_ys[0]) == 20


def test_an_accidental_stands_before_its_note():
    low, flat, natural = staff.draw(
        [notes.parse(name) for name in ("F#3", "Bb3", "G4")], Clef.TREBLE
    ).notes

    assert [low.accidental, flat.accidental, natural.accidental] == ["sharp", "flat", ""]
    assert all(note.accidental_x < note.x for note in (low, flat))


def test_notes_go_from_left_to_right_inside_the_picture():
    picture = staff.draw([67, 66, 65], Clef.TREBLE, title="Three notes")

    xs = [note.x for note in picture.notes]

    assert xs == [staff.FIRST_NOTE_X + staff.NOTE_DISTANCE * turn for turn in range(3)]
    assert picture.width == xs[-1] + staff.RIGHT_MARGIN
    assert max(note.ledger_x2 for note in picture.notes) < picture.width
    assert picture.view_box == f"0 0 {picture.width} {picture.height}"
    assert (picture.title, picture.clef) == ("Three notes", "treble")


def test_a_label_says_the_note_in_the_students_naming():
    picture = _draw("F#3", Clef.TREBLE, naming=Naming.GERMAN)

    assert picture.notes[0].label == "Fis 3"


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda one: one.id)
def test_every_picture_of_a_session_has_one_size_and_room_for_its_note(instrument):
    frame = (instrument.lowest, instrument.highest)

    pictures = [
        staff.draw([note.written], clef(instrument), frame=frame) for note in chart(instrument)
    ]

    assert len({(picture.width, picture.height, picture.line_ys) for picture in pictures}) == 1
    for picture in pictures:
        assert staff.SPACE <= picture.notes[0].y <= picture.height - staff.SPACE


def test_an_empty_staff_can_be_drawn():
    picture = staff.draw([], Clef.BASS)

    assert (picture.notes, len(picture.line_ys)) == ((), 5)
    assert picture.width == staff.FIRST_NOTE_X + staff.RIGHT_MARGIN


@given(st.integers(24, 96), st.sampled_from(Clef))
def test_a_higher_letter_stands_half_a_space_higher(midi, which):
    low, high = (staff.draw([note], which, frame=(24, 100)).notes[0] for note in (midi, midi + 1))

    steps = notes.spelling(midi + 1).staff_step - notes.spelling(midi).staff_step

    assert low.y - high.y == 5 * steps


def test_words_under_the_notes_stand_below_everything_and_make_room_for_themselves():
    plain = staff.draw([54, 79], Clef.TREBLE)

    picture = staff.draw([54, 79], Clef.TREBLE, captions=[("3", "Nov"), ("12", "Nov")])

    ys = [y for note in picture.notes for _, y in note.caption]
    assert [[line for line, _ in note.caption] for note in picture.notes] == [
        ["3", "Nov"], ["12", "Nov"],
    ]  # fmt: skip
    assert min(ys) > plain.height
    assert max(ys) < picture.height
    assert [note.y for note in picture.notes] == [note.y for note in plain.notes]


def test_the_longest_of_the_captions_makes_room_and_its_lines_are_as_far_apart():
    picture = staff.draw([54, 79], Clef.TREBLE, captions=[("3",), ("12", "Nov", "2026")])

    ys = [y for _, y in picture.notes[1].caption]

    assert [later - ys[0] for later in ys] == [0, 15, 30]
    assert picture.notes[0].caption[0][1] == ys[0]
    assert ys[-1] < picture.height


def test_eight_notes_with_words_fit_a_phone():
    picture = staff.draw([79] * 8, Clef.TREBLE, captions=[("3",)] * 8)

    assert picture.width <= 360


def test_a_caption_too_few_is_refused():
    with pytest.raises(ValueError, match="1 captions for 2 notes"):
        staff.draw([60, 62], Clef.TREBLE, captions=[("3",)])
