"""The facts of each instrument that no rule gives: names, notation, fundamental, ranges.

Conventions: notes are written, in scientific pitch; ``transposition`` is half steps from written
to sounding. Sources: names, transpositions and fundamentals are common knowledge of the trade,
checked in the tests against published tables. Beginner and intermediate ranges follow a band-music
publisher's grading table (Grade 1 and 2; octaves inferred); those of the C trumpet, alto horn,
treble-clef trombone, bass trombone, treble-clef BB-flat tuba and the CC, E-flat and F tubas are
from memory.
"""

from dataclasses import dataclass

from routines.engine.catalogue import gettext_noop
from routines.engine.fingering import Mechanism


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What instruments of one build share: notation, series, ends and the two ranges.

    ``start_partial`` is the open note the walk starts on, ``top_partial`` the top of the chart.
    """

    clefs: tuple[str, ...]
    fundamental: str
    beginner: tuple[str, str]
    intermediate: tuple[str, str]
    mechanism: Mechanism = Mechanism.VALVES
    valves: int = 3
    start_partial: int = 3
    top_partial: int = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table."""

    id: str
    name: str
    name_uk: str
    family: str
    transposition: int
    kind: Kind


def _treble(*, mechanism: Mechanism = Mechanism.VALVES, valves: int = 3) -> Kind:
    return Kind(
        clefs=("treble",),
        fundamental="C3",
        beginner=("C4", "C5"),
        intermediate=("A3", "E5"),
        mechanism=mechanism,
        valves=valves,
    )


def _horn(mechanism: Mechanism) -> Kind:
    """Build a horn: an octave lower in its series than the other brass, so six, not three."""
    return Kind(
        clefs=("treble", "bass"),
        fundamental="C2",
        beginner=("A3", "A4"),
        intermediate=("G3", "C5"),
        mechanism=mechanism,
        start_partial=6,
        top_partial=16,
    )


def _tuba(fundamental: str, beginner: tuple[str, str], intermediate: tuple[str, str]) -> Kind:
    return Kind(
        clefs=("bass",),
        fundamental=fundamental,
        beginner=beginner,
        intermediate=intermediate,
        valves=4,
    )


def _tenor(
    *,
    clefs: tuple[str, ...] = ("bass",),
    intermediate: tuple[str, str] = ("G2", "D4"),
    mechanism: Mechanism = Mechanism.VALVES,
    valves: int = 3,
) -> Kind:
    return Kind(
        clefs=clefs,
        fundamental="Bb1",
        beginner=("Bb2", "Bb3"),
        intermediate=intermediate,
        mechanism=mechanism,
        valves=valves,
    )


def _row(id_: str, names: tuple[str, str], family: str, transposition: int, kind: Kind) -> Row:
    return Row(
        id=id_,
        name=names[0],
        name_uk=names[1],
        family=family,
        transposition=transposition,
        kind=kind,
    )


_TRUMPET = _treble()
_TREBLE_SLIDE = _treble(mechanism=Mechanism.SLIDE, valves=0)
_TREBLE_FOUR = _treble(valves=4)
_TROMBONE = _tenor(clefs=("bass", "tenor"), mechanism=Mechanism.SLIDE, valves=0)
_BASS_TROMBONE = _tenor(intermediate=("E2", "F4"), mechanism=Mechanism.SLIDE, valves=0)
_BBB = _tuba("Bb0", ("Bb1", "C3"), ("A1", "D3"))
_CC = _tuba("C1", ("C2", "C3"), ("B1", "E3"))
_EB = _tuba("Eb1", ("Eb2", "Eb3"), ("C2", "G3"))
_F = _tuba("F1", ("F2", "F3"), ("D2", "A3"))

ROWS: tuple[Row, ...] = (
    _row("trumpet_bb", (gettext_noop("B-flat trumpet"), "B flat trumpet"), "trumpet", -2, _TRUMPET),
    _row("trumpet_c", (gettext_noop("C trumpet"), "C trumpet"), "trumpet", 0, _TRUMPET),
    _row("cornet_bb", (gettext_noop("B-flat cornet"), "B flat cornet"), "cornet", -2, _TRUMPET),
    _row(
        "flugelhorn_bb",
        (gettext_noop("B-flat flugelhorn"), "B flat flugel"),
        "flugelhorn",
        -2,
        _TRUMPET,
    ),
    _row(
        "horn_f", (gettext_noop("F horn, single"), "horn in F"), "horn", -7, _horn(Mechanism.VALVES)
    ),
    _row(
        "horn_double_f_bb",
        (gettext_noop("F/B-flat double horn"), "F/B flat double horn"),
        "horn",
        -7,
        _horn(Mechanism.DOUBLE_HORN),
    ),
    _row(
        "horn_eb_alto",
        (gettext_noop("E-flat alto horn"), "E flat tenor horn"),
        "alto horn",
        -9,
        _TRUMPET,
    ),
    _row(
        "trombone_tenor",
        (gettext_noop("tenor trombone"), "tenor trombone"),
        "trombone",
        0,
        _TROMBONE,
    ),
    _row(
        "trombone_tenor_tc",
        (gettext_noop("tenor trombone, treble clef"), "tenor trombone, treble clef (brass band)"),
        "trombone",
        -14,
        _TREBLE_SLIDE,
    ),
    _row(
        "trombone_bass",
        (gettext_noop("bass trombone"), "bass trombone"),
        "trombone",
        0,
        _BASS_TROMBONE,
    ),
    _row(
        "baritone_bc",
        (gettext_noop("baritone horn, bass clef"), "baritone, bass clef"),
        "baritone",
        0,
        _tenor(),
    ),
    _row(
        "baritone_tc",
        (gettext_noop("baritone horn, treble clef"), "baritone, treble clef"),
        "baritone",
        -14,
        _TRUMPET,
    ),
    _row(
        "euphonium_bc",
        (gettext_noop("euphonium, bass clef"), "euphonium, bass clef"),
        "euphonium",
        0,
        _tenor(valves=4),
    ),
    _row(
        "euphonium_tc",
        (gettext_noop("euphonium, treble clef"), "euphonium, treble clef"),
        "euphonium",
        -14,
        _TREBLE_FOUR,
    ),
    _row("tuba_bbb", (gettext_noop("BB-flat tuba"), "BB flat bass"), "tuba", 0, _BBB),
    _row(
        "tuba_bbb_tc",
        (gettext_noop("BB-flat tuba, treble clef"), "BB flat bass, treble clef (brass band)"),
        "tuba",
        -26,
        _TREBLE_FOUR,
    ),
    _row("tuba_cc", (gettext_noop("CC tuba"), "C tuba"), "tuba", 0, _CC),
    _row("tuba_eb", (gettext_noop("E-flat tuba"), "E flat bass"), "tuba", 0, _EB),
    _row(
        "tuba_eb_tc",
        (gettext_noop("E-flat tuba, treble clef"), "E flat bass, treble clef (brass band)"),
        "tuba",
        -21,
        _TREBLE_FOUR,
    ),
    _row("tuba_f", (gettext_noop("F tuba"), "F tuba"), "tuba", 0, _F),
)
