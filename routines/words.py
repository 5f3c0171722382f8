"""What the routines' engine gives as codes and figures, said in words on a screen."""

from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from routines.engine import instruments
from routines.engine.catalogue import Sentence
from routines.engine.dynamics import Dynamics, Kind, Level, Shape
from routines.engine.notes import Height, Naming, height, said, spelling
from routines.engine.plan import BlockPlan


def in_words(said: str | Exception) -> str:
    """Say what an engine says, or why it refused, in the language of the page."""
    sentence = said.args[0] if isinstance(said, Exception) else said
    if isinstance(sentence, Sentence):
        figures = {name: _said(figure) for name, figure in sentence.figures.items()}
        return _(sentence.message) % figures
    return str(sentence)


def instrument_name(identifier: str) -> str:
    """Name an instrument within a sentence: "tenor trombone"."""
    return _(instruments.by_id(identifier).name)


def instrument_choices() -> list[tuple[str, str]]:
    """List every instrument with its name as a line begins with it, for a form."""
    return [(row.id, capfirst(_(row.name))) for row in instruments.INSTRUMENTS]


def dynamic_words(sign: str) -> str:
    """Say a level's sign or the name of a shape: "medium loud", "loud, then softer to the end"."""
    return _(Level(sign).words if sign in set(Level) else Shape(sign).words)


def dynamics_within(dynamics: Dynamics) -> str:
    """Say within a sentence what a whole block asks: "day by day: loud, then soft"."""
    parts = _parts(dynamics)
    if dynamics.kind is Kind.BY_DAY:
        return _("day by day: %(first)s, then %(second)s") % parts
    if dynamics.kind is Kind.BY_NOTE:
        return _("note by note: %(first)s, then %(second)s") % parts
    if dynamics.kind is Kind.INSIDE:
        return _("in each note: %(shape)s") % parts
    return parts["first"]


def dynamics_on(dynamics: Dynamics, day: int) -> str:
    """Say what a day of the block asks, counted from 1: "Today: loud"."""
    if dynamics.kind is Kind.BY_DAY:
        return _("Today: %(level)s") % {"level": dynamic_words(dynamics.at(day, 0))}
    return dynamics_asked(dynamics, day)


def dynamics_asked(dynamics: Dynamics, day: int) -> str:
    """Say the same where "today" stands already: "Loud"."""
    if dynamics.kind is Kind.BY_NOTE:
        return _("Note by note: %(first)s, then %(second)s") % _parts(dynamics)
    if dynamics.kind is Kind.INSIDE:
        return _("In each note: %(shape)s") % _parts(dynamics)
    return capfirst(dynamic_words(dynamics.at(day, 0)))


def counts(plan: BlockPlan) -> str:
    """Say how a plan is counted: "Hold 8 · Rest 8, 60 a minute, medium loud"."""
    return _("Hold %(hold)s · Rest %(rest)s, %(tempo)s a minute, %(dynamics)s") % {
        "hold": plan.hold,
        "rest": plan.rest,
        "tempo": plan.tempo,
        "dynamics": dynamics_within(plan.dynamics),
    }


def hold_and_rest(hold: int, rest: int) -> str:
    """Say the two counts: "Hold 8 · Rest 8"."""
    return _("Hold %(hold)s · Rest %(rest)s") % {"hold": hold, "rest": rest}


def spoken_from(midi: int, start: int, naming: Naming) -> str:
    """Name a note in words as players do within a walk from `start`: low F sharp, G, high G."""
    named = {"note": said(spelling(midi), naming)}
    return {
        Height.VERY_LOW: pgettext("a note", "very low %(note)s"),
        Height.LOW: pgettext("a note", "low %(note)s"),
        Height.MIDDLE: "%(note)s",
        Height.HIGH: pgettext("a note", "high %(note)s"),
        Height.VERY_HIGH: pgettext("a note", "very high %(note)s"),
    }[height(midi, start)] % named


def _parts(dynamics: Dynamics) -> dict[str, str]:
    if dynamics.shape is not None:
        return {"shape": _(dynamics.shape.words)}
    levels = [_(level.words) for level in dynamics.levels]
    return {"first": levels[0], "second": levels[-1]}


def _said(figure: Any) -> Any:
    return in_words(figure) if isinstance(figure, Sentence) else figure
