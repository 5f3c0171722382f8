"""Notes as numbers, as names and as pitches.

Conventions: a note is a MIDI number, middle C (C4 in scientific pitch notation) = 60, 0 to 127.
Which pitch a number stands for, written or sounding, is the business of whoever holds it:
only :func:`frequency` insists on the sounding one. Standard pitch is A4 = 440 Hz (ISO 16).

How a note is called is a matter of its own, apart from the language of a page: the seven steps and
the two accidentals each have a name in every system of :class:`Naming`, and the German and Dutch
systems contract some of them. Names after the LilyPond Notation Reference 2.25, "Note names in
other languages"; that the do-re-mi systems say the accidental as a word is common practice.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

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
_STEPS_OF_SOLFEGE = ("do", "re", "mi", "fa", "sol", "la", "si")
_PATTERN = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?[0-9]{1,2})")


class NoteError(ValueError):
    """A text or a number that is no note; the message says what is allowed."""


class Naming(StrEnum):
    """How a student is used to calling notes: English letters, German and Nordic, Dutch, do re mi.

    Do re mi is one order of names in three spellings, each with its own words for the accidentals.
    """

    LETTERS = "letters"
    GERMAN = "german"
    DUTCH = "dutch"
    ITALIAN = "italian"
    FRENCH = "french"
    SPANISH = "spanish"


_SOLFEGE_WORDS = {
    Naming.ITALIAN: {"": "", "sharp": "diesis", "flat": "bemolle"},
    Naming.FRENCH: {"": "", "sharp": "dièse", "flat": "bémol"},
    Naming.SPANISH: {"": "", "sharp": "sostenido", "flat": "bemol"},
}


class Height(StrEnum):
    """Where a note lies from the start note of a walk, by whole octaves; the middle has no word."""

    VERY_LOW = "very low"
    LOW = "low"
    MIDDLE = ""
    HIGH = "high"
    VERY_HIGH = "very high"


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
    """Name a note for a screen, without its octave: F♯, Fis, fis, fa♯; B♭, B, bes, si♭."""
    return shown(spelling(midi), naming)


def shown(spelled: Spelling, naming: Naming) -> str:
    """Name a spelled note for a screen, without its octave; do re mi takes the sign."""
    if naming in _SOLFEGE_WORDS:
        return _solfege(spelled.letter, naming) + _ACCIDENTAL_SIGNS[spelled.accidental]
    if naming is Naming.LETTERS:
        return spelled.letter + _ACCIDENTAL_SIGNS[spelled.accidental]
    return _in_one_word(spelled, naming)


def said(spelled: Spelling, naming: Naming) -> str:
    """Name a spelled note in words, without its octave: F sharp, Fis, fis, fa diesis, fa dièse."""
    if naming in _SOLFEGE_WORDS:
        words = (_solfege(spelled.letter, naming), _SOLFEGE_WORDS[naming][spelled.accidental])
        return " ".join(filter(None, words))
    if naming is Naming.LETTERS:
        return " ".join(filter(None, (spelled.letter, spelled.accidental)))
    return _in_one_word(spelled, naming)


@cache
def with_octave(midi: int, naming: Naming = Naming.LETTERS) -> str:
    """Name a note for a list in which two Gs must differ: F♯3, B4, in German Fis3, H4."""
    return f"{display(midi, naming)}{spelling(midi).octave}"


def spoken(midi: int, naming: Naming = Naming.LETTERS) -> str:
    """Name a note in words with its octave, as a screen reader should say it: F sharp 3."""
    spelled = spelling(midi)
    return f"{said(spelled, naming)} {spelled.octave}"


def height(midi: int, start: int) -> Height:
    """Say in which octave round the start note of a walk a note lies.

    The middle octave reaches from six half steps below the start to five above, so a name and its
    height belong to one note alone. What lies two octaves off or more is very low or very high.
    """
    octaves = (midi - start + 6) // 12
    order = (Height.VERY_LOW, Height.LOW, Height.MIDDLE, Height.HIGH, Height.VERY_HIGH)
    return order[max(-2, min(2, octaves)) + 2]


def _solfege(letter: str, naming: Naming) -> str:
    step = _STEPS_OF_SOLFEGE[LETTERS_IN_ORDER.index(letter)]
    return "ré" if naming is Naming.FRENCH and step == "re" else step


def _in_one_word(spelled: Spelling, naming: Naming) -> str:
    """Name a note as Germans and the Dutch do: -is for sharp, -es for flat, after a vowel -s.

    In German and in the Nordic languages B natural is H and B flat is B.
    """
    if naming is Naming.GERMAN and spelled.letter == "B":
        return {"": "H", "sharp": "His", "flat": "B"}[spelled.accidental]
    ending = {"": "", "sharp": "is", "flat": "s" if spelled.letter in "AE" else "es"}
    word = spelled.letter + ending[spelled.accidental]
    return word.lower() if naming is Naming.DUTCH else word


def _name(midi: int, spellings: tuple[str, ...]) -> str:
    _check(midi)
    return f"{spellings[midi % 12]}{_octave(midi)}"


def _octave(midi: int) -> int:
    return midi // 12 - 1


def _check(midi: int) -> None:
    if not LOWEST <= midi <= HIGHEST:
        raise NoteError(f"Note number {midi}: choose {LOWEST} to {HIGHEST}.")
