"""Notes against the MIDI convention, ISO 16 and two reference libraries."""

import json
from pathlib import Path

import librosa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import pitch

from routines.engine import notes
from routines.engine.instruments import INSTRUMENTS, chart
from routines.engine.notes import NoteError

PITCH = json.loads((Path(__file__).parents[2] / "data" / "trade_pitch.json").read_text())["pitch"]
MIDI = st.integers(notes.LOWEST, notes.HIGHEST)
EVERY = [pytest.param(instrument, id=instrument.id) for instrument in INSTRUMENTS]


@pytest.mark.parametrize("case", PITCH["cases"], ids=lambda case: case["note"])
def test_number_and_hertz_are_those_of_the_midi_convention_and_iso_16(case):
    midi = notes.parse(case["note"])

    assert midi == case["midi"]
    assert notes.frequency(midi) == pytest.approx(case["hz_a440"], abs=5e-5)
    assert notes.frequency(midi, a4=442.0) == pytest.approx(case["hz_a442"], abs=5e-5)


# librosa 0.11 as the reference.
@pytest.mark.parametrize("instrument", EVERY)
def test_librosa_names_and_tunes_every_note_alike(instrument):
    whole = chart(instrument)

    written = librosa.note_to_midi([note.name for note in whole])
    hertz = librosa.midi_to_hz([note.sounding for note in whole])

    assert list(written) == [note.written for note in whole]
    assert [note.hertz for note in whole] == pytest.approx(list(hertz), rel=1e-12)


# music21 10.5 as the reference; it writes flats with a minus sign.
@pytest.mark.parametrize("instrument", EVERY)
def test_music21_names_and_tunes_every_note_alike(instrument):
    whole = chart(instrument)

    written = [pitch.Pitch(note.name.replace("b", "-")).midi for note in whole]
    hertz = [pitch.Pitch(midi=note.sounding).frequency for note in whole]

    assert written == [note.written for note in whole]
    assert [note.hertz for note in whole] == pytest.approx(hertz, rel=1e-9)


@pytest.mark.parametrize("text", ["F#3", "Gb3", "f#3", "F♯3", "G♭3", "gb3", " F#3 "])
def test_every_way_to_write_low_f_sharp_is_the_same_note(text):
    assert notes.parse(text) == 54


@pytest.mark.parametrize(
    ("text", "midi"), [("B3", 59), ("b3", 59), ("bb3", 58), ("Cb4", 59), ("B#3", 60), ("C-1", 0)]
)
def test_b_natural_b_flat_and_the_notes_across_the_octave_line_are_told_apart(text, midi):
    assert notes.parse(text) == midi


@pytest.mark.parametrize(
    "text", ["", "H3", "F", "3", "F##3", "F#", "F#3x", "F# 3", "Fis3", "C10", "A9", "٣", "C٤"]
)
def test_what_is_no_note_is_refused_with_what_is_allowed(text):
    with pytest.raises(NoteError, match=r"write a letter A to G|choose a note from C-1 to G9"):
        notes.parse(text)


@pytest.mark.parametrize("midi", [-1, 128])
def test_a_number_that_is_no_midi_note_has_no_name(midi):
    with pytest.raises(NoteError, match=f"Note number {midi}: choose 0 to 127"):
        notes.name(midi)


@pytest.mark.parametrize("midi", [-1, 128])
@pytest.mark.parametrize("asked", [notes.spelling, notes.frequency, notes.display])
def test_a_number_that_is_no_midi_note_has_neither_spelling_nor_hertz(asked, midi):
    with pytest.raises(NoteError, match=f"Note number {midi}: choose 0 to 127"):
        asked(midi)


# MIDI has the numbers 0 to 127; music21 10.5 names the two ends.
@pytest.mark.parametrize("midi", [0, 127])
def test_the_first_and_the_last_midi_note_have_a_name(midi):
    assert notes.name(midi) == pitch.Pitch(midi=midi).nameWithOctave


@given(MIDI)
def test_every_name_reads_back_as_the_same_note(midi):
    read = {notes.parse(name(midi)) for name in (notes.name, notes.sharp_name, notes.flat_name)}

    assert read == {midi}


@given(MIDI)
def test_only_the_flat_name_has_flats_and_only_the_sharp_name_has_sharps(midi):
    assert "b" not in notes.sharp_name(midi)
    assert "#" not in notes.flat_name(midi)
