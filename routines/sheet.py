"""What a plan looks like to people: its figures, its notes and its drawings.

Everything here is read from the engine's timeline; nothing is computed a second time.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from routines.engine import load, staff, timeline
from routines.engine.instruments import Clef, Instrument
from routines.engine.notes import Naming, display, spoken
from routines.engine.plan import BlockPlan, Month
from routines.engine.staff import StaffPicture
from routines.engine.timeline import Step, Timeline, Totals
from routines.engine.walk import Part
from routines.models import BlockVersion
from routines.words import dynamic_words, dynamics_asked, dynamics_on, spoken_from
from studio.models import Student
from studio.words import in_a_row

COUNT_IN = 4
NOTES_IN_LINE = 16
HALF_STEPS_IN_OCTAVE = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkPart:
    """One part of the walk as a run of notes, each with its fingering or slide position."""

    part: Part
    notes: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSheet:
    """A plan for reading: totals in seconds, the span of an open top, the notes, a drawing."""

    plan: BlockPlan
    instrument: Instrument
    totals: Totals
    shortest: Totals | None
    parts: tuple[WalkPart, ...]
    picture: StaffPicture
    advice: tuple[load.Advice, ...]
    dynamics: str


def clef_of(plan: BlockPlan) -> Clef:
    """Say in which clef the student reads: the set-up's, or the instrument's first."""
    return plan.setup.clef or plan.player.clefs[0]


def naming_of(student: Student) -> Naming:
    """Say how the student's notes are named: their own way, or the studio's."""
    return Naming(student.note_naming or student.studio.note_naming)


def sheet(
    plan: BlockPlan, *, naming: Naming = Naming.LETTERS, day: int = 1, month: Month | None = None
) -> PlanSheet:
    """Lay a plan out for reading on a day of its block, counted from 1."""
    built = timeline.build(plan, day)
    return PlanSheet(
        plan=plan,
        instrument=plan.player,
        totals=built.totals,
        shortest=built.shortest,
        parts=_parts(built, naming),
        picture=_landmarks(plan, naming),
        advice=load.advice(plan, month),
        dynamics=dynamics_on(plan.dynamics, day),
    )


def staves(plan: BlockPlan, naming: Naming) -> list[dict[str, Any]]:
    """Draw every note of the walk once, all in one frame, as {"written", "picture"}."""
    frame = (plan.low_note, plan.highest_note)
    return [
        {
            "written": note,
            "picture": staff.draw([note], clef_of(plan), frame=frame, naming=naming),
        }
        for note in range(frame[0], frame[1] + 1)
    ]


def engraved(plan: BlockPlan, naming: Naming) -> list[StaffPicture]:
    """Draw the whole walk for paper, a part of it a line, its fingering and name under each note.

    An open top is drawn to the end of the chart, for the student to see what comes next. A long
    part goes on in a line of its own; all lines have one height.
    """
    frame = (plan.low_note, plan.highest_note)
    drawn = []
    for part in _parts_of(timeline.build(plan)):
        lines = -(-len(part) // NOTES_IN_LINE)
        length = -(-len(part) // lines)
        for start in range(0, len(part), length):
            steps = part[start : start + length]
            drawn.append(
                staff.draw(
                    [step.written for step in steps],
                    clef_of(plan),
                    frame=frame,
                    naming=naming,
                    captions=[(display(step.written, naming), step.fingering) for step in steps],
                )
            )
    return drawn


def session(student: Student, version: BlockVersion, day: date) -> dict[str, Any]:
    """Write the session of a day for the player; times in seconds from the first attack."""
    plan, block = version.plan, version.block
    naming = naming_of(student)
    number = block.month.turn_of(day)
    steps = timeline.build(plan, number).steps
    return {
        "student": student.public_id,
        "name": student.name,
        "block": block.public_id,
        "version": version.pk,
        "day": day.isoformat(),
        "hold": plan.hold,
        "rest": plan.rest,
        "tempo": plan.tempo,
        "count_in": COUNT_IN,
        "start_note": plan.start_note,
        "has_concert": plan.player.transposition % HALF_STEPS_IN_OCTAVE != 0,
        "top_is_open": plan.top_note is None,
        "slide": not plan.player.valves,
        "dynamic_today": dynamics_asked(plan.dynamics, number),
        "steps": [_for_player(step, naming, plan) for step in steps],
    }


def fingering_words(fingering: str, instrument: Instrument) -> str:
    """Say a fingering: "open", "valves 1 and 2", "thumb and valve 1", "position 4"."""
    if not instrument.valves:
        return _("position %(number)s") % {"number": fingering}
    thumb, keys = fingering.startswith("T"), fingering.removeprefix("T")
    if keys == "0":
        return _("thumb") if thumb else pgettext("no valve down", "open")
    valves = {"valves": in_a_row(keys)}
    if thumb:
        said = ngettext("thumb and valve %(valves)s", "thumb and valves %(valves)s", len(keys))
    else:
        said = ngettext("valve %(valves)s", "valves %(valves)s", len(keys))
    return said % valves


def _for_player(step: Step, naming: Naming, plan: BlockPlan) -> dict[str, Any]:
    return {
        "index": step.index,
        "written": step.written,
        "label": display(step.written, naming),
        "spoken": spoken_from(step.written, plan.start_note, naming),
        "concert_label": display(step.sounding, naming),
        "concert_spoken": spoken(step.sounding, naming),
        "fingering": step.fingering,
        "fingering_words": fingering_words(step.fingering, plan.player),
        "hint": _(str(step.hint)) if step.hint else "",
        "part": str(step.part),
        "dynamic": step.dynamic,
        "dynamic_words": dynamic_words(step.dynamic),
        "start": step.start,
        "hold": step.hold,
        "rest": step.rest,
    }


def _parts(built: Timeline, naming: Naming) -> tuple[WalkPart, ...]:
    runs = {
        part: tuple(
            (display(step.written, naming), step.fingering)
            for step in built.steps
            if step.part is part
        )
        for part in Part
    }
    return tuple(WalkPart(part=part, notes=notes) for part, notes in runs.items() if notes)


def _parts_of(built: Timeline) -> list[list[Step]]:
    runs = ([step for step in built.steps if step.part is part] for part in Part)
    return [steps for steps in runs if steps]


def _landmarks(plan: BlockPlan, naming: Naming) -> StaffPicture:
    """Draw where the walk starts, its lowest and, unless it is open, its highest note."""
    marks = [plan.start_note, plan.low_note]
    start = plan.start_note
    said = {
        "start": spoken_from(start, start, naming),
        "low": spoken_from(plan.low_note, start, naming),
    }
    if plan.top_note is None:
        title = _("From %(start)s down to %(low)s, then up.") % said
        return staff.draw(marks, clef_of(plan), title=title, naming=naming)
    said["top"] = spoken_from(plan.top_note, start, naming)
    title = _("From %(start)s down to %(low)s, then up to %(top)s.") % said
    return staff.draw([*marks, plan.top_note], clef_of(plan), title=title, naming=naming)
