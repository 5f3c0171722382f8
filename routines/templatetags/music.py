"""Musical words for templates."""

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils.html import format_html_join
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from routines import words
from routines.engine import notes
from routines.engine.dynamics import Dynamics
from routines.engine.notes import Naming
from routines.engine.plan import BlockPlan
from routines.engine.variants import Variant
from routines.engine.walk import Part
from routines.models import Block
from routines.player_words import player_words as words_of_the_player
from routines.queries import Edit
from routines.queries import edits as edits_of
from routines.sheet import PlanSheet
from studio.models import Student
from studio.words import WEEKDAYS

register = template.Library()


@register.filter
def minutes(seconds: float) -> str:
    """Write seconds as people say them: 424 is "7 min 4 s", 3600 is "60 min"."""
    whole = round(seconds)
    parts = {"minutes": whole // 60, "seconds": whole % 60}
    if whole < 60:
        return _("%(seconds)d s") % parts
    if whole % 60 == 0:
        return _("%(minutes)d min") % parts
    return _("%(minutes)d min %(seconds)d s") % parts


@register.simple_tag
def player_words() -> dict[str, Any]:
    """List the sentences that the player fills in on the phone."""
    return words_of_the_player()


@register.filter
def about_minutes(seconds: float) -> str:
    """Write seconds roughly: 424 is "7 min", anything short is "1 min"."""
    return _("%(minutes)d min") % {"minutes": max(1, round(seconds / 60))}


@register.filter
def session_span(sheet: PlanSheet) -> str:
    """Say about how long a session is: "6 min to 9 min" with an open top, else "7 min"."""
    return _span(*(end.session_seconds for end in (sheet.shortest, sheet.totals) if end))


@register.filter
def playing_span(sheet: PlanSheet) -> str:
    """Say about how much of a session is playing, in the same way."""
    return _span(*(end.hold_seconds for end in (sheet.shortest, sheet.totals) if end))


@register.filter
def note_span(sheet: PlanSheet) -> str:
    """Say how many notes a session has: "27 to 36" with an open top, else "27"."""
    ends = (end.notes for end in (sheet.shortest, sheet.totals) if end)
    return _from_to(str(notes) for notes in ends)


def _span(*seconds: float) -> str:
    return _from_to(about_minutes(end) for end in seconds)


def _from_to(ends: Iterable[str]) -> str:
    least, *more = dict.fromkeys(ends)
    return _("%(least)s to %(most)s") % {"least": least, "most": more[-1]} if more else least


@register.filter
def note(midi: int, naming: str = "letters") -> str:
    """Name a written note without its octave: 66 is "F♯"."""
    return notes.display(midi, Naming(naming))


@register.filter
def full_written(midi: int, naming: str = "letters") -> str:
    """Name a written note with its octave: 66 is "F♯4"."""
    return notes.with_octave(midi, Naming(naming))


@register.filter
def counts(plan: BlockPlan) -> str:
    """Say how a plan is counted: "Hold 8 · Rest 8, 60 a minute, medium loud"."""
    return words.counts(plan)


@register.filter
def dynamics_within(dynamics: Dynamics) -> str:
    """Say within a sentence what a whole block asks: "medium loud"."""
    return words.dynamics_within(dynamics)


@register.filter
def walk_notes(plan: BlockPlan, naming: str = "letters") -> str:
    """Say where a walk goes: "G4 down to F♯3, top open"."""
    said = {
        "start": full_written(plan.start_note, naming),
        "low": full_written(plan.low_note, naming),
    }
    if plan.top_note is None:
        return _("%(start)s down to %(low)s, top open") % said
    said["top"] = full_written(plan.top_note, naming)
    return _("%(start)s down to %(low)s, top %(top)s") % said


@register.filter
def of_student(apart: dict[int, str], student: Student) -> str:
    """Say what tells a student apart from another of the same name and instrument, or nothing."""
    return apart.get(student.pk, "")


@register.filter
def named(students: Iterable[Student]) -> str:
    """Name several students in a row, each name set apart from the direction of the text."""
    return format_html_join(", ", "<bdi>{}</bdi>", ((student.name,) for student in students))


@register.filter
def instrument(identifier: str) -> str:
    """Name an instrument as a line begins with it: "Tenor trombone"."""
    return capfirst(words.instrument_name(identifier))


@register.filter
def instrument_within(identifier: str) -> str:
    """Name an instrument within a sentence: "tenor trombone"."""
    return words.instrument_name(identifier)


@register.filter
def weekday(number: int) -> str:
    """Name a day of the week; Monday is 0."""
    return str(WEEKDAYS[number])


@register.filter
def variant_name(variant: str) -> str:
    """Name a variant; recovery says what it is, because it is the densest of all."""
    if variant not in set(Variant):
        return _("Own counts")
    return {
        Variant.BASELINE: _("Baseline"),
        Variant.ENDURANCE: _("Endurance"),
        Variant.RECOVERY: _("Recovery (short rest)"),
        Variant.COMPACT: _("Compact"),
        Variant.CONTRAST: _("Dynamic contrast"),
    }[Variant(variant)]


@register.filter
def edits(block: Block) -> list[Edit]:
    """List what was changed within a block, the first day first."""
    return edits_of(block)


@register.filter
def edit_words(edit: Edit) -> str:
    """Say what an edit asks: "Hold 10 · Rest 8", and what else is other than before."""
    plan, others = edit.version.plan, set(edit.changed) - {"hold", "rest"}
    said = [words.hold_and_rest(plan.hold, plan.rest)]
    if "tempo" in others:
        said.append(_("%(tempo)s a minute") % {"tempo": plan.tempo})
    if "dynamics" in others:
        said.append(words.dynamics_within(plan.dynamics))
    if others & {"start_note", "low_note", "top_note", "back"}:
        said.append(_("other notes"))
    if "setup" in others:
        said.append(_("the instrument as it is built now"))
    return ", ".join(said)


@register.filter
def part_name(part: str) -> str:
    """Name a part of the walk."""
    return {
        Part.DOWN: pgettext("part of the walk", "Down"),
        Part.BACK: pgettext("part of the walk", "Back"),
        Part.UP: pgettext("part of the walk", "Up"),
    }[Part(part)]


@register.filter
def percent(share: float) -> str:
    """Write a share of one: 0.667 is "67 %"."""
    return f"{share * 100:.0f} %"


@register.filter
def short_seconds(seconds: float) -> str:
    """Write a few seconds with their tenth: 1.25 is "1.2 s", 2.0 is "2 s"."""
    return _("%(seconds)s s") % {"seconds": f"{seconds:.1f}".removesuffix(".0")}
