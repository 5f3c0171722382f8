"""Musical words for templates."""

from django import template
from django.utils.text import capfirst

from routines.engine import instruments, notes
from routines.engine.notes import Naming
from routines.engine.variants import Variant
from routines.engine.walk import Part
from routines.models import Block
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
    parts = []
    if whole >= 60:
        parts.append(f"{whole // 60} min")
    if whole % 60 or not parts:
        parts.append(f"{whole % 60} s")
    return " ".join(parts)


@register.filter
def about_minutes(seconds: float) -> str:
    """Write seconds roughly: 424 is "7 min", anything short is "1 min"."""
    return f"{max(1, round(seconds / 60))} min"


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
    return " to ".join(dict.fromkeys(str(notes) for notes in ends))


def _span(*seconds: float) -> str:
    return " to ".join(dict.fromkeys(about_minutes(end) for end in seconds))


@register.filter
def note(midi: int, naming: str = "letters") -> str:
    """Name a written note without its octave: 66 is "F♯"."""
    return notes.display(midi, Naming(naming))


@register.filter
def of_student(apart: dict[int, str], student: Student) -> str:
    """Say what tells a student apart from another of the same name and instrument, or nothing."""
    return apart.get(student.pk, "")


@register.filter
def instrument(identifier: str) -> str:
    """Name an instrument as a line begins with it: "Tenor trombone"."""
    return capfirst(instruments.by_id(identifier).name)


@register.filter
def instrument_within(identifier: str) -> str:
    """Name an instrument within a sentence: "tenor trombone"."""
    return instruments.by_id(identifier).name


@register.filter
def weekday(number: int) -> str:
    """Name a day of the week; Monday is 0."""
    return WEEKDAYS[number]


@register.filter
def variant_name(variant: str) -> str:
    """Name a variant; recovery says what it is, because it is the densest of all."""
    if variant not in set(Variant):
        return "Own counts"
    return {
        Variant.BASELINE: "Baseline",
        Variant.ENDURANCE: "Endurance",
        Variant.RECOVERY: "Recovery (short rest)",
        Variant.COMPACT: "Compact",
        Variant.CONTRAST: "Dynamic contrast",
    }[Variant(variant)]


@register.filter
def edits(block: Block) -> list[Edit]:
    """List what was changed within a block, the first day first."""
    return edits_of(block)


@register.filter
def edit_words(edit: Edit) -> str:
    """Say what an edit asks: "Hold 10 · Rest 8", and what else is other than before."""
    plan, others = edit.version.plan, set(edit.changed) - {"hold", "rest"}
    words = [f"Hold {plan.hold} · Rest {plan.rest}"]
    if "tempo" in others:
        words.append(f"{plan.tempo} a minute")
    if "dynamics" in others:
        words.append(plan.dynamics.whole)
    if others & {"start_note", "low_note", "top_note", "back"}:
        words.append("other notes")
    if "setup" in others:
        words.append("the instrument as it is built now")
    return ", ".join(words)


@register.filter
def part_name(part: str) -> str:
    """Name a part of the walk."""
    return {Part.DOWN: "Down", Part.BACK: "Back", Part.UP: "Up"}[Part(part)]


@register.filter
def percent(share: float) -> str:
    """Write a share of one: 0.667 is "67 %"."""
    return f"{share * 100:.0f} %"


@register.filter
def short_seconds(seconds: float) -> str:
    """Write a few seconds with their tenth: 1.25 is "1.2 s", 2.0 is "2 s"."""
    return f"{seconds:.1f}".removesuffix(".0") + " s"
