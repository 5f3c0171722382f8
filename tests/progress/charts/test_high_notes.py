"""Highest notes at their places on the staff, as music21 places them.

music21 (M. S. Cuthbert and others, BSD) numbers the letters from C0 and knows each clef's lowest
line. German names: H is B natural, B is B flat (manual of a free engraver, language "deutsch").
"""

import pytest
from music21 import clef as reference_clefs
from music21 import pitch

from progress.charts.high_notes import high_notes_chart, natural_at, step_of
from progress.queries.charts import HighNote
from routines.engine import notes
from routines.engine.instruments import Clef
from routines.engine.notes import Naming
from tests.progress.charts.charted import a_charted, day

SHOWN = (Naming.LETTERS, Naming.GERMAN, Naming.ITALIAN)
CLEFS = {
    Clef.TREBLE: reference_clefs.TrebleClef(),
    Clef.BASS: reference_clefs.BassClef(),
    Clef.TENOR: reference_clefs.TenorClef(),
}


def highs(*named, asked=None):
    """Give one note a day."""
    top = None if asked is None else notes.parse(asked)
    return tuple(
        HighNote(day=day(number), note=notes.parse(name), asked=top)
        for number, name in enumerate(named)
    )


def chart(*named, clef=Clef.TREBLE, naming=Naming.LETTERS, asked=None):
    found = high_notes_chart(a_charted(highs=highs(*named, asked=asked)), clef, naming)
    assert found is not None
    return found


@pytest.mark.parametrize("clef", Clef)
@pytest.mark.parametrize("midi", range(30, 97, 3))
def test_a_note_stands_where_music21_puts_it(clef, midi):
    spelled = notes.name(midi).replace("b", "-") if "b" in notes.name(midi) else notes.name(midi)

    steps = pitch.Pitch(spelled).diatonicNoteNum - CLEFS[clef].lowestLine

    assert step_of(midi, clef) == steps


@pytest.mark.parametrize(
    ("clef", "lines"),
    [
        (Clef.TREBLE, ["E4", "G4", "B4", "D5", "F5"]),
        (Clef.BASS, ["G2", "B2", "D3", "F3", "A3"]),
        (Clef.TENOR, ["D3", "F3", "A3", "C4", "E4"]),
    ],
)
def test_the_five_lines_have_their_names(clef, lines):
    # Common practice, in every primer; no one source.
    assert [notes.name(natural_at(step, clef)) for step in (0, 2, 4, 6, 8)] == lines


def test_the_axis_names_the_places_in_the_students_naming():
    ticks = {}
    for naming in Naming:
        axis = chart("G5", naming=naming).figure["layout"]["yaxis"]
        ticks[naming] = dict(zip(axis["tickvals"], axis["ticktext"], strict=True))

    assert [ticks[naming][4] for naming in SHOWN] == ["B4", "H4", "si4"]


def test_every_line_of_the_staff_is_drawn_and_ledger_lines_are_dotted():
    shapes = chart("C6").figure["layout"]["shapes"]

    drawn = {shape["y0"]: shape["line"]["dash"] for shape in shapes}
    assert drawn == dict.fromkeys((0, 2, 4, 6, 8), "solid") | dict.fromkeys((10, 12, 14), "dot")


def test_a_sharp_stands_at_its_letter_with_its_sign():
    found = chart("F5", "F#5", "Bb5")

    assert [(one.step, one.sign) for one in found.days] == [(8, ""), (8, "♯"), (11, "♭")]
    signs = found.figure["data"][-1]
    assert [text.strip() for text in signs["text"]] == ["♯", "♭"]
    assert signs["y"] == [8, 11]


def test_the_best_is_the_highest_sound_and_the_first_day_of_it():
    found = chart("F#5", "F5", "F#5", "E5")

    assert (found.best.day, found.best.name) == (day(0), "F♯5")
    assert found.last.name == "E5"


def test_what_was_asked_is_a_line_only_where_the_top_was_not_open():
    assert not chart("G5").has_asked
    found = chart("E5", "F5", asked="G5")

    assert found.has_asked
    assert found.figure["data"][0]["y"] == [9, 9]
    assert {one.asked for one in found.days} == {"G5"}


def test_without_a_note_nothing_is_drawn():
    assert high_notes_chart(a_charted(), Clef.TREBLE, Naming.LETTERS) is None
