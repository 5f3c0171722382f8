"""How loud: one level, two levels in turn by day or by note, or a shape inside each note.

Conventions: levels are the signs of the trade, pp to ff. Written as text, and kept so in a column:
``mf``, ``by-day:f,p``, ``by-note:f,p``, ``inside:swell``. Days count from 1, notes from 0; the
first level named stands on day 1 and on note 0.
"""

from dataclasses import dataclass
from enum import StrEnum

from routines.engine.catalogue import gettext_noop


class DynamicsError(ValueError):
    """A text that names no dynamics; the message says what is allowed."""


class Level(StrEnum):
    """One dynamic level."""

    PP = "pp"
    P = "p"
    MP = "mp"
    MF = "mf"
    F = "f"
    FF = "ff"

    @property
    def words(self) -> str:
        """Say the level in plain words: medium loud."""
        return _LEVEL_WORDS[self]


class Shape(StrEnum):
    """What a note does from its start to its end."""

    SWELL = "swell"
    FADE = "fade"
    GROW = "grow"

    @property
    def words(self) -> str:
        """Say the shape in plain words."""
        return _SHAPE_WORDS[self]


class Kind(StrEnum):
    """What the dynamics change by."""

    ONE = "one"
    BY_DAY = "by-day"
    BY_NOTE = "by-note"
    INSIDE = "inside"


_LEVEL_WORDS = {
    Level.PP: gettext_noop("very soft"),
    Level.P: gettext_noop("soft"),
    Level.MP: gettext_noop("medium soft"),
    Level.MF: gettext_noop("medium loud"),
    Level.F: gettext_noop("loud"),
    Level.FF: gettext_noop("very loud"),
}
_SHAPE_WORDS = {
    Shape.SWELL: gettext_noop("soft, grow louder, soft again"),
    Shape.FADE: gettext_noop("loud, then softer to the end"),
    Shape.GROW: gettext_noop("soft, then louder to the end"),
}
_LEVELS_IN_TURN = 2
_ALLOWED = "choose pp, p, mp, mf, f or ff, by-day:f,p, by-note:f,p, or inside:swell, fade or grow."


@dataclass(frozen=True, slots=True, kw_only=True)
class Dynamics:
    """The dynamics of a block: one level, two in turn, or a shape and no level."""

    kind: Kind = Kind.ONE
    levels: tuple[Level, ...] = ()
    shape: Shape | None = None

    def __post_init__(self) -> None:
        """Refuse levels or a shape that do not belong to the kind."""
        wanted = {Kind.ONE: 1, Kind.INSIDE: 0}.get(self.kind, _LEVELS_IN_TURN)
        if len(self.levels) != wanted or (self.shape is not None) != (self.kind is Kind.INSIDE):
            raise DynamicsError(f"Dynamics {str(self)!r}: {_ALLOWED}")
        if len(set(self.levels)) != wanted:
            raise DynamicsError(f"Dynamics {str(self)!r}: name two different levels.")

    def __str__(self) -> str:
        """Write the text that :func:`parse` reads."""
        if self.kind is Kind.ONE:
            return ",".join(self.levels)
        inside = self.shape or ""
        return f"{self.kind}:{inside or ','.join(self.levels)}"

    def at(self, day_number: int, index: int) -> str:
        """Return what stands at a note: a level's sign, or the name of a shape."""
        if self.shape is not None:
            return str(self.shape)
        turn = {Kind.BY_DAY: day_number - 1, Kind.BY_NOTE: index}.get(self.kind, 0)
        return str(self.levels[turn % len(self.levels)])


def parse(text: str) -> Dynamics:
    """Read dynamics from text; raise DynamicsError that says what is allowed."""
    head, colon, tail = text.strip().partition(":")
    try:
        kind = Kind(head) if colon else Kind.ONE
        if kind is Kind.INSIDE:
            return Dynamics(kind=kind, shape=Shape(tail))
        levels = tuple(Level(level.strip()) for level in (tail if colon else head).split(","))
    except ValueError:
        raise DynamicsError(f"Dynamics {text!r}: {_ALLOWED}") from None
    return Dynamics(kind=kind, levels=levels)


MEZZO_FORTE = Dynamics(levels=(Level.MF,))
