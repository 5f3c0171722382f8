"""Notes as numbers, as names and as pitches.

Conventions: a note is a MIDI number, middle C (C4 in scientific pitch notation) = 60, 0 to 127.
Which pitch a number stands for, written or sounding, is the business of whoever holds it:
only :func:`frequency` insists on the sounding one. Standard pitch is A4 = 440 Hz (ISO 16).
"""

import re
from dataclasses import dataclass
from enum import StrEnum

LOWEST = 0
HIGHEST = 127
LETTERS_IN_ORDER = "CDEFGAB"

_HALF_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTAL_HALF_STEPS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_USUAL = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_ACCIDENTAL_WORDS = {"": "", "#": "sharp", "b": "flat"}
_ACCIDENTAL_SIGNS = {"": "", "sharp": "♯", "flat": "♭"}
_SOLFEGE = {"C": "do", "D": "re", "E": "mi", "F": "fa", "G": "sol", "A": "la", "B": "si"}
_PATTERN = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?[0-9]{1,2})")


class NoteError(ValueError):
    """A text or a number that is no note; the message says what is allowed."""


class Naming(StrEnum):
    """How a student is used to calling notes."""

    LETTERS = "letters"
    GERMAN = "german"
    SOLFEGE = "solfege"


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelling:
    """A note as it stands on the staff: letter, accidental ("", "sharp", "flat"), octave."""

    letter: str
    accidental: str
    octave: int

    @property
    def staff_step(self) -> int:
        """Place on the staff, one a line or space, counted upward from C0 = 0."""
        return self.octave * 7 + LETTERS_IN_ORDER.index(self.letter)


def parse(text: str) -> int:
    """Read a note such as F#3, Gb3, f#3, F♯3 or G♭3; raise NoteError for anything else."""
    match = _PATTERN.fullmatch(text.strip())
    if match is None:
        raise NoteError(f"Note {text!r}: write a letter A to G, # or b, and an octave, as in F#3.")
    letter, accidental, octave = match.groups()
    midi = 12 * (int(octave) + 1) + _HALF_STEPS[letter.upper()] + _ACCIDENTAL_HALF_STEPS[accidental]
    if not LOWEST <= midi <= HIGHEST:
        raise NoteError(f"Note {text.strip()}: choose a note from C-1 to G9.")
    return midi


def name(midi: int) -> str:
    """Name a note in the spelling a brass player meets most: C C# D Eb E F F# G Ab A Bb B."""
    return _name(midi, _USUAL)


def sharp_name(midi: int) -> str:
    """Name a note with sharps only, as in D#4."""
    return _name(midi, _SHARPS)


def flat_name(midi: int) -> str:
    """Name a note with flats only, as in Gb3."""
    return _name(midi, _FLATS)


def spelling(midi: int) -> Spelling:
    """Spell a note as :func:`name` does, in parts."""
    _check(midi)
    text = _USUAL[midi % 12]
    return Spelling(letter=text[0], accidental=_ACCIDENTAL_WORDS[text[1:]], octave=_octave(midi))


def frequency(sounding_midi: int, a4: float = 440.0) -> float:
    """Hertz of a sounding note in equal temperament: a4 * 2 ** ((midi - 69) / 12)."""
    _check(sounding_midi)
    return float(a4 * 2.0 ** ((sounding_midi - 69) / 12))


def display(midi: int, naming: Naming = Naming.LETTERS) -> str:
    """Name a note for a screen, without its octave: F♯ and B♭, Fis and B, fa♯ and si♭."""
    spelled = spelling(midi)
    if naming is Naming.GERMAN:
        return _german(spelled)
    letter = _SOLFEGE[spelled.letter] if naming is Naming.SOLFEGE else spelled.letter
    return letter + _ACCIDENTAL_SIGNS[spelled.accidental]


def with_octave(midi: int, naming: Naming = Naming.LETTERS) -> str:
    """Name a note for a list in which two Gs must differ: F♯3, B4, in German Fis3, H4."""
    return f"{display(midi, naming)}{spelling(midi).octave}"


def spoken(midi: int, naming: Naming = Naming.LETTERS) -> str:
    """Name a note in words with its octave, as a screen reader should say it: F sharp 3."""
    spelled = spelling(midi)
    if naming is Naming.GERMAN:
        return f"{_german(spelled)} {spelled.octave}"
    letter = _SOLFEGE[spelled.letter] if naming is Naming.SOLFEGE else spelled.letter
    return " ".join(part for part in (letter, spelled.accidental, str(spelled.octave)) if part)


def _german(spelled: Spelling) -> str:
    """Name a note the German way: B is H, B flat is B, sharps end in -is, flats in -es."""
    if spelled.letter == "B":
        return {"": "H", "sharp": "His", "flat": "B"}[spelled.accidental]
    if spelled.accidental == "flat":
        return spelled.letter + ("s" if spelled.letter in "AE" else "es")
    return spelled.letter + ("is" if spelled.accidental else "")


def _name(midi: int, spellings: tuple[str, ...]) -> str:
    _check(midi)
    return f"{spellings[midi % 12]}{_octave(midi)}"


def _octave(midi: int) -> int:
    return midi // 12 - 1


def _check(midi: int) -> None:
    if not LOWEST <= midi <= HIGHEST:
        raise NoteError(f"Note number {midi}: choose {LOWEST} to {HIGHEST}.")
