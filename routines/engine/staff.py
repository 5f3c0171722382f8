"""Where notes stand on a staff: geometry for a drawing, no drawing.

Conventions: ten units are one staff space, so a step from line to space is five; y grows downward,
as in SVG; a note's x and y are the middle of its head. The clef's y is the line it names: G in the
treble clef (second from below), F in the bass clef (fourth), C in the tenor clef (fourth). Every
number is a whole one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from routines.engine import notes
from routines.engine.instruments import Clef
from routines.engine.notes import Naming, Spelling

SPACE = 10
STEP = SPACE // 2
STAFF_HEIGHT = 4 * SPACE
CLEF_X = 10
FIRST_NOTE_X = 72
NOTE_DISTANCE = 44
# Notes with words under them are many, and must fit the width of a phone.
CAPTIONED_DISTANCE = 36
CAPTION_LINE = 15
CAPTION_GAP = 6
RIGHT_MARGIN = 28
ACCIDENTAL_DISTANCE = 17
LEDGER_HALF_WIDTH = 10
# A treble clef reaches about two spaces over and under the staff.
_CLEF_ROOM = 2 * SPACE
_NOTE_ROOM = 2 * SPACE
_TOP_LINE_STEPS = 8

# The staff step of the bottom line (E4, G2, D3), and how many steps above it the clef's line is.
_BOTTOM_LINE = {Clef.TREBLE: 30, Clef.BASS: 18, Clef.TENOR: 22}
_CLEF_LINE_STEPS = {Clef.TREBLE: 2, Clef.BASS: 6, Clef.TENOR: 6}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedNote:
    """One note: its head, its accidental ("", "sharp", "flat"), its ledger lines.

    ``caption`` holds the lines of words that stand under it, each with its y.
    """

    note: int
    x: int
    y: int
    accidental: str
    accidental_x: int
    ledger_ys: tuple[int, ...]
    ledger_x1: int
    ledger_x2: int
    label: str
    caption: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffPicture:
    """A whole staff with its notes, ready for a template to print."""

    width: int
    height: int
    view_box: str
    line_ys: tuple[int, ...]
    clef: str
    clef_x: int
    clef_y: int
    notes: tuple[PlacedNote, ...]
    title: str


def draw(
    midis: Sequence[int],
    clef: Clef,
    *,
    frame: tuple[int, int] | None = None,
    title: str = "",
    naming: Naming = Naming.LETTERS,
    captions: Sequence[Sequence[str]] = (),
) -> StaffPicture:
    """Place written notes from left to right.

    ``frame`` is the lowest and the highest note the picture must have room for, so that all
    pictures of a session have one size; without it the notes themselves decide. ``captions``, if
    any, are the lines of words under each note; there must be as many as notes.
    """
    if captions and len(captions) != len(midis):
        message = f"{len(captions)} captions for {len(midis)} notes: give one each, or none."
        raise ValueError(message)
    bottom = _BOTTOM_LINE[clef]
    needed = [*midis, *(frame or ())]
    steps = [notes.spelling(midi).staff_step - bottom for midi in needed]
    above = max([_CLEF_ROOM, *(_NOTE_ROOM + (step - _TOP_LINE_STEPS) * STEP for step in steps)])
    below = max([_CLEF_ROOM, *(_NOTE_ROOM - step * STEP for step in steps)])
    bottom_y = above + STAFF_HEIGHT
    distance = CAPTIONED_DISTANCE if captions else NOTE_DISTANCE
    placed = [
        _place(midi, FIRST_NOTE_X + index * distance, bottom, bottom_y, naming)
        for index, midi in enumerate(midis)
    ]
    width = FIRST_NOTE_X + max(0, len(midis) - 1) * distance + RIGHT_MARGIN
    height = bottom_y + below
    if captions:
        lines = max(map(len, captions))
        placed = [
            replace(note, caption=_caption(words, height))
            for note, words in zip(placed, captions, strict=True)
        ]
        height += lines * CAPTION_LINE + CAPTION_GAP
    return StaffPicture(
        width=width,
        height=height,
        view_box=f"0 0 {width} {height}",
        line_ys=tuple(range(above, bottom_y + 1, SPACE)),
        clef=clef.value,
        clef_x=CLEF_X,
        clef_y=bottom_y - _CLEF_LINE_STEPS[clef] * STEP,
        notes=tuple(placed),
        title=title,
    )


def _place(midi: int, x: int, bottom: int, bottom_y: int, naming: Naming) -> PlacedNote:
    spelled: Spelling = notes.spelling(midi)
    step = spelled.staff_step - bottom
    return PlacedNote(
        note=midi,
        x=x,
        y=bottom_y - step * STEP,
        accidental=spelled.accidental,
        accidental_x=x - ACCIDENTAL_DISTANCE,
        ledger_ys=tuple(bottom_y - line * STEP for line in _ledger_steps(step)),
        ledger_x1=x - LEDGER_HALF_WIDTH,
        ledger_x2=x + LEDGER_HALF_WIDTH,
        label=notes.spoken(midi, naming),
    )


def _caption(words: Sequence[str], top: int) -> tuple[tuple[str, int], ...]:
    return tuple((line, top + CAPTION_LINE * turn) for turn, line in enumerate(words, start=1))


def _ledger_steps(step: int) -> range:
    """Every second step outside the staff, from the nearest to the staff to the note."""
    if step < 0:
        return range(-2, step - 1, -2)
    return range(_TOP_LINE_STEPS + 2, step + 1, 2)
