"""The twenty instruments, and for every note of each its sound and its fingering.

Conventions: notes are written MIDI numbers unless a name says sounding; ``transposition`` is what
to add to a written note to get the sounding one. Fingerings are computed by ``fingering``, never
stored. The facts of each instrument stand in ``instrument_table``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from routines.engine import fingering, notes
from routines.engine.catalogue import gettext_noop
from routines.engine.fingering import Fingering, Mechanism, Tubing
from routines.engine.instrument_table import ROWS, Row

WALK_DOWN_HALF_STEPS = 13
_THREE_OR_FOUR_VALVES = frozenset({"baritone", "euphonium", "tuba"})
_FOURTH_VALVE_STANDS_FOR = ("13", "123")


class InstrumentError(ValueError):
    """No such instrument, or a note it has not; the message lists what is allowed."""


class Clef(StrEnum):
    """A clef a brass part is written in."""

    TREBLE = "treble"
    BASS = "bass"
    TENOR = "tenor"


class Hint(StrEnum):
    """What a player does about a combination that is out of tune; NONE says nothing."""

    NONE = ""
    THIRD_SLIDE = gettext_noop("extend the third slide")
    FOURTH_VALVE = gettext_noop("use 4")
    LIP_OR_HAND = gettext_noop("lip or hand")
    LIP_HAND_OR_SIDE = gettext_noop("lip or hand, or the B flat side")
    COMPENSATING = gettext_noop("compensating fingering")
    LONGER = gettext_noop("one half step more tubing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """From a lowest to a highest written note, both included."""

    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """What differs between two players of one instrument; None means the instrument's usual."""

    clef: Clef | None = None
    four_valves: bool | None = None
    compensating: bool | None = None
    f_attachment: bool | None = None


USUAL = Setup()


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """One instrument in one notation; a treble-clef euphonium is another than a bass-clef one.

    ``family`` groups lists. ``valves`` is 0 for a slide. ``start_note`` and ``low_note`` are the
    walk a teacher assigns first, ``lowest`` and ``highest`` the ends of its usual chart.
    """

    id: str
    name: str
    name_uk: str
    family: str
    clefs: tuple[Clef, ...]
    mechanism: Mechanism
    valves: int
    transposition: int
    fundamental_written: int
    start_note: int
    highest: int
    beginner: Range
    intermediate: Range

    @property
    def low_note(self) -> int:
        """The end of the first walk down: 13 half steps, to all valves or the last position."""
        return self.start_note - WALK_DOWN_HALF_STEPS

    @property
    def lowest(self) -> int:
        """The lowest note of the usual chart."""
        return tubing(self).lowest

    @property
    def valves_vary(self) -> bool:
        """Whether it comes with three or with four valves: common practice, no published source."""
        return self.family in _THREE_OR_FOUR_VALVES

    def sounding(self, written: int) -> int:
        """Return the sounding MIDI number of a written note."""
        return written + self.transposition


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartNote:
    """One note of a fingering chart.

    ``cents`` is how far the usual fingering lies from equal temperament before the player
    corrects it, sharp positive: the partial's own tuning plus the combination of valves.
    """

    written: int
    name: str
    sounding: int
    hertz: float
    usual: Fingering
    alternates: tuple[Fingering, ...]
    hint: Hint
    cents: float


def ids() -> tuple[str, ...]:
    """Return the ids of all instruments, in the order lists show them."""
    return tuple(instrument.id for instrument in INSTRUMENTS)


def by_id(id_: str) -> Instrument:
    """Find an instrument; raise InstrumentError that lists the ids."""
    for instrument in INSTRUMENTS:
        if instrument.id == id_:
            return instrument
    raise InstrumentError(f"Instrument {id_!r}: choose one of {', '.join(ids())}.")


def clef(instrument: Instrument, setup: Setup = USUAL) -> Clef:
    """Return the clef this player reads: the chosen one if it has it, else its first."""
    return setup.clef if setup.clef in instrument.clefs else instrument.clefs[0]


def tubing(instrument: Instrument, setup: Setup = USUAL) -> Tubing:
    """Return the lengths this player has to choose from."""
    valves = instrument.valves
    if setup.four_valves is not None and _takes_a_fourth_valve(instrument):
        valves = 4 if setup.four_valves else 3
    return Tubing(
        fundamental=instrument.fundamental_written,
        mechanism=instrument.mechanism,
        valves=valves,
        compensating=setup.compensating is not False,
        attachment=bool(setup.f_attachment),
        highest_partial=16 if instrument.family == "horn" else 12,
    )


@cache
def chart(instrument: Instrument, setup: Setup = USUAL) -> tuple[ChartNote, ...]:
    """Every note from the lowest without pedals to the highest, upward by half steps."""
    tubes = tubing(instrument, setup)
    return tuple(
        _chart_note(instrument, setup, tubes, midi)
        for midi in range(tubes.lowest, instrument.highest + 1)
    )


def chart_note(instrument: Instrument, midi: int, setup: Setup = USUAL) -> ChartNote:
    """Find one note of the chart; raise InstrumentError that names the two ends."""
    whole = chart(instrument, setup)
    if not whole[0].written <= midi <= whole[-1].written:
        given = notes.name(midi) if notes.LOWEST <= midi <= notes.HIGHEST else str(midi)
        raise InstrumentError(
            f"Note {given}: {instrument.name} goes from {span(instrument, setup)}."
        )
    return whole[midi - whole[0].written]


def span(instrument: Instrument, setup: Setup = USUAL) -> str:
    """Name the two ends of the chart, as in "F#3 to E6"."""
    return " to ".join(ends(instrument, setup))


def ends(instrument: Instrument, setup: Setup = USUAL) -> tuple[str, str]:
    """Name the lowest and the highest note of the chart."""
    return notes.name(tubing(instrument, setup).lowest), notes.name(instrument.highest)


def move(
    midi: int, from_instrument: Instrument, to_instrument: Instrument, setup: Setup = USUAL
) -> int:
    """Carry a note over: as many half steps from the other's start note, inside its chart."""
    moved = midi - from_instrument.start_note + to_instrument.start_note
    return max(tubing(to_instrument, setup).lowest, min(moved, to_instrument.highest))


def _takes_a_fourth_valve(instrument: Instrument) -> bool:
    return instrument.mechanism is Mechanism.VALVES and instrument.family != "horn"


def _chart_note(instrument: Instrument, setup: Setup, tubes: Tubing, midi: int) -> ChartNote:
    usual = fingering.usual(tubes, midi)
    if usual is None:
        raise InstrumentError(f"Note {notes.name(midi)}: {instrument.name} cannot play it.")
    sounding = instrument.sounding(midi)
    # What the tubing in use gives is not the note itself where a chart adds a half step.
    added = fingering.above(tubes.fundamental, usual.partial) - midi
    longer = 0 if usual.text.startswith("T") else usual.half_steps - added
    combination = fingering.combination_cents(
        usual.text if tubes.mechanism is not Mechanism.SLIDE else "",
        compensating=tubes.compensating,
    )
    others = fingering.alternates(tubes, midi)
    return ChartNote(
        written=midi,
        name=notes.name(midi),
        sounding=sounding,
        hertz=notes.frequency(sounding),
        usual=usual,
        alternates=others,
        hint=_hint(instrument, setup, tubes, usual, others),
        cents=fingering.partial_cents(usual.partial) + combination - 100 * longer,
    )


def _hint(
    instrument: Instrument,
    setup: Setup,
    tubes: Tubing,
    usual: Fingering,
    others: Sequence[Fingering],
) -> Hint:
    if tubes.mechanism is Mechanism.SLIDE:
        return Hint.NONE
    if instrument.family == "horn" and usual.text in _FOURTH_VALVE_STANDS_FOR:
        other_side = any(one.text.startswith("T") for one in others)
        return Hint.LIP_HAND_OR_SIDE if other_side else Hint.LIP_OR_HAND
    if usual.half_steps > fingering.THREE_VALVE_REACH:
        if setup.compensating is None:
            return Hint.COMPENSATING
        return Hint.NONE if tubes.compensating else Hint.LONGER
    if usual.text in _FOURTH_VALVE_STANDS_FOR:
        return Hint.THIRD_SLIDE
    return Hint.FOURTH_VALVE if usual.text in {"4", "24"} else Hint.NONE


def _range(ends: tuple[str, str]) -> Range:
    return Range(low=notes.parse(ends[0]), high=notes.parse(ends[1]))


def _instrument(row: Row) -> Instrument:
    kind = row.kind
    fundamental = notes.parse(kind.fundamental)
    return Instrument(
        id=row.id,
        name=row.name,
        name_uk=row.name_uk,
        family=row.family,
        clefs=tuple(Clef(clef) for clef in kind.clefs),
        mechanism=kind.mechanism,
        valves=kind.valves,
        transposition=row.transposition,
        fundamental_written=fundamental,
        start_note=fingering.above(fundamental, kind.start_partial),
        highest=fingering.above(fundamental, kind.top_partial),
        beginner=_range(kind.beginner),
        intermediate=_range(kind.intermediate),
    )


INSTRUMENTS: tuple[Instrument, ...] = tuple(_instrument(row) for row in ROWS)
