"""What notes are called: six systems against a reference library and a published table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch

from routines.engine import notes
from routines.engine.notes import Height, Naming, Spelling
from routines.words import spoken_from

ACCIDENTALS = {"": "", "sharp": "#", "flat": "-"}
EVERY_SPELLING = [
    pytest.param(letter, accidental, id=f"{letter}{accidental}")
    for letter in notes.LETTERS_IN_ORDER
    for accidental in ACCIDENTALS
]
# GNU LilyPond Notation Reference 2.25, "Note names in other languages": the rows "nederlands",
# "deutsch", "norsk" and "suomi", with its remark that aes and ees are contracted to as and es.
LILYPOND_DUTCH = {
    "": "c d e f g a b",
    "sharp": "cis dis eis fis gis ais bis",
    "flat": "ces des es fes ges as bes",
}
LILYPOND_GERMAN = {
    "": "c d e f g a h",
    "sharp": "cis dis eis fis gis ais his",
    "flat": "ces des es fes ges as b",
}


def spell(letter: str, accidental: str) -> Spelling:
    return Spelling(letter=letter, accidental=accidental, octave=4)


# music21 10.5 as the reference, for four systems; it writes flats with a minus sign.
@pytest.mark.parametrize(("letter", "accidental"), EVERY_SPELLING)
def test_music21_calls_every_spelled_note_the_same_in_words(letter, accidental):
    theirs = pitch.Pitch(f"{letter}{ACCIDENTALS[accidental]}4")

    ours = {
        naming: notes.said(spell(letter, accidental), naming)
        for naming in (Naming.GERMAN, Naming.ITALIAN, Naming.FRENCH, Naming.SPANISH)
    }

    assert ours == {
        Naming.GERMAN: theirs.german,
        Naming.ITALIAN: theirs.italian,
        Naming.FRENCH: theirs.french,
        Naming.SPANISH: theirs.spanish,
    }


@pytest.mark.parametrize(
    ("naming", "table"), [(Naming.DUTCH, LILYPOND_DUTCH), (Naming.GERMAN, LILYPOND_GERMAN)]
)
@pytest.mark.parametrize("accidental", ACCIDENTALS)
def test_the_published_table_calls_every_spelled_note_the_same(naming, table, accidental):
    wanted = table[accidental].split()

    shown = [notes.shown(spell(letter, accidental), naming) for letter in notes.LETTERS_IN_ORDER]

    assert [name.lower() for name in shown] == wanted


# The same table's row "english" spells the sharp and the flat out: c, cis is "c-sharp".
@pytest.mark.parametrize(("letter", "accidental"), EVERY_SPELLING)
def test_english_letters_take_a_sign_on_the_screen_and_a_word_when_spoken(letter, accidental):
    spelled = spell(letter, accidental)

    assert notes.said(spelled, Naming.LETTERS) == f"{letter} {accidental}".strip()
    sign = {"": "", "sharp": "♯", "flat": "♭"}[accidental]
    assert notes.shown(spelled, Naming.LETTERS) == letter + sign


# The spelling that brass players meet most, of each of the twelve: common practice, no published
# source. How each system calls it: the two sources above.
@pytest.mark.parametrize(
    ("naming", "names"),
    [
        (Naming.LETTERS, "C C♯ D E♭ E F F♯ G A♭ A B♭ B"),
        (Naming.GERMAN, "C Cis D Es E F Fis G As A B H"),
        (Naming.DUTCH, "c cis d es e f fis g as a bes b"),
        (Naming.ITALIAN, "do do♯ re mi♭ mi fa fa♯ sol la♭ la si♭ si"),
        (Naming.FRENCH, "do do♯ ré mi♭ mi fa fa♯ sol la♭ la si♭ si"),
        (Naming.SPANISH, "do do♯ re mi♭ mi fa fa♯ sol la♭ la si♭ si"),
    ],
)
def test_the_twelve_notes_are_shown_as_each_system_calls_them(naming, names):
    assert [notes.display(midi, naming) for midi in range(60, 72)] == names.split()


@pytest.mark.parametrize("naming", Naming)
def test_no_two_of_the_twelve_notes_share_a_name(naming):
    shown = {notes.display(midi, naming) for midi in range(60, 72)}
    spoken = {notes.spoken(midi, naming) for midi in range(60, 72)}

    assert (len(shown), len(spoken)) == (12, 12)


def test_two_notes_of_one_letter_are_spoken_with_their_octave():
    spoken = [notes.spoken(notes.parse(name)) for name in ("G4", "G5", "F#3", "Bb3")]

    assert spoken == ["G 4", "G 5", "F sharp 3", "B flat 3"]


# A trumpet's walk from G4. "Low F sharp", "low C" and "high C" are how players say it: common
# practice, no published source.
@pytest.mark.parametrize(
    ("name", "spoken"),
    [
        ("F#3", "low F sharp"),
        ("C4", "low C"),
        ("C#4", "C sharp"),
        ("G4", "G"),
        ("C5", "C"),
        ("C#5", "high C sharp"),
        ("G5", "high G"),
        ("C6", "high C"),
        ("C#6", "very high C sharp"),
        ("F#2", "very low F sharp"),
    ],
)
def test_within_a_walk_a_note_is_spoken_as_players_say_it(name, spoken):
    assert spoken_from(notes.parse(name), notes.parse("G4"), Naming.LETTERS) == spoken


@pytest.mark.parametrize(
    ("naming", "spoken"),
    [
        (Naming.LETTERS, "low F sharp"),
        (Naming.GERMAN, "low Fis"),
        (Naming.DUTCH, "low fis"),
        (Naming.ITALIAN, "low fa diesis"),
        (Naming.FRENCH, "low fa dièse"),
        (Naming.SPANISH, "low fa sostenido"),
    ],
)
def test_low_f_sharp_is_spoken_in_every_system(naming, spoken):
    assert spoken_from(54, 67, naming) == spoken


@given(
    start=st.integers(36, 90),
    pair=st.tuples(st.integers(-30, 29), st.integers(-30, 29)).filter(lambda two: two[0] != two[1]),
    naming=st.sampled_from(Naming),
)
def test_a_spoken_name_belongs_to_one_note_of_a_walk(start, pair, naming):
    one, other = (spoken_from(start + distance, start, naming) for distance in pair)

    assert one != other


def test_the_start_note_is_in_the_middle_and_its_octaves_are_low_and_high():
    heights = [notes.height(67 + distance, 67) for distance in (-12, 0, 12)]

    assert heights == [Height.LOW, Height.MIDDLE, Height.HIGH]


@pytest.mark.parametrize("octaves", [2, 3, 4])
def test_two_octaves_off_and_more_are_very_low_and_very_high(octaves):
    heights = [notes.height(67 + 12 * way * octaves, 67) for way in (-1, 1)]

    assert heights == [Height.VERY_LOW, Height.VERY_HIGH]


@pytest.mark.parametrize(
    ("midi", "naming", "name"),
    [(54, Naming.LETTERS, "F♯3"), (54, Naming.GERMAN, "Fis3"), (71, Naming.GERMAN, "H4")],
)
def test_in_a_list_a_note_has_its_octave(midi, naming, name):
    assert notes.with_octave(midi, naming) == name
