"""The walk of a block as MusicXML 4.0 (W3C Community Group): one measure a cycle.

Conventions: a count is a quarter note, written notes with the instrument's transposition beside
them, so that a program shows the part as the student reads it and plays what sounds. A cycle is one
measure of hold and rest; the last one ends with the note, as the session does. The time signature
is there for programs and is not printed: a cycle is no metre.
"""

from collections.abc import Iterator
from xml.etree import ElementTree as Xml

from routines.engine import notes, timeline
from routines.engine.dynamics import Shape
from routines.engine.instruments import Clef
from routines.engine.plan import BlockPlan
from routines.engine.timeline import Step
from routines.words import instrument_name

DIVISIONS = 4
WHOLE = 4
DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_CLEFS = {Clef.TREBLE: ("G", "2"), Clef.BASS: ("F", "4"), Clef.TENOR: ("C", "4")}
# Quarter notes that one notehead can last: a whole, a dotted half, a half and a quarter.
_VALUES = ((4, "whole", False), (3, "half", True), (2, "half", False), (1, "quarter", False))
_WEDGES = {
    Shape.SWELL: (("crescendo", 0.0), ("diminuendo", 0.5)),
    Shape.FADE: (("diminuendo", 0.0),),
    Shape.GROW: (("crescendo", 0.0),),
}


def write(plan: BlockPlan, *, title: str, day: int = 1) -> bytes:
    """Write the session of a day of the block, counted from 1, as one part in UTF-8."""
    score = Xml.Element("score-partwise", version="4.0")
    Xml.SubElement(Xml.SubElement(score, "work"), "work-title").text = title
    part_list = Xml.SubElement(score, "part-list")
    listed = Xml.SubElement(part_list, "score-part", id="P1")
    Xml.SubElement(listed, "part-name").text = instrument_name(plan.instrument)
    part = Xml.SubElement(score, "part", id="P1")
    steps = timeline.build(plan, day).steps
    for step in steps:
        measure = Xml.SubElement(part, "measure", number=str(step.index + 1))
        is_last = step is steps[-1]
        if step.index == 0:
            _attributes(measure, plan)
            _tempo(measure, plan)
        elif is_last and plan.rest:
            _time(Xml.SubElement(measure, "attributes"), plan.hold)
        _dynamic(measure, step, steps[step.index - 1] if step.index else None)
        _held(measure, plan, step)
        if not is_last:
            for quarters in _split(plan.rest):
                _rest(measure, quarters)
        else:
            barline = Xml.SubElement(measure, "barline", location="right")
            Xml.SubElement(barline, "bar-style").text = "light-heavy"
    Xml.indent(score)
    written: bytes = Xml.tostring(score, encoding="utf-8")
    return DOCTYPE.encode() + written + b"\n"


def _attributes(measure: Xml.Element, plan: BlockPlan) -> None:
    attributes = Xml.SubElement(measure, "attributes")
    Xml.SubElement(attributes, "divisions").text = str(DIVISIONS)
    Xml.SubElement(Xml.SubElement(attributes, "key"), "fifths").text = "0"
    _time(attributes, plan.hold + plan.rest)
    sign, line = _CLEFS[plan.setup.clef or plan.player.clefs[0]]
    clef = Xml.SubElement(attributes, "clef")
    Xml.SubElement(clef, "sign").text = sign
    Xml.SubElement(clef, "line").text = line
    if plan.player.transposition:
        _transpose(attributes, plan.player.transposition)


def _time(attributes: Xml.Element, quarters: int) -> None:
    time = Xml.SubElement(attributes, "time", {"print-object": "no"})
    Xml.SubElement(time, "beats").text = str(quarters)
    Xml.SubElement(time, "beat-type").text = "4"


def _transpose(attributes: Xml.Element, half_steps: int) -> None:
    """Say how far the sound lies from the page: whole octaves apart from the rest."""
    octaves = int(half_steps / 12)
    chromatic = half_steps - 12 * octaves
    transpose = Xml.SubElement(attributes, "transpose")
    Xml.SubElement(transpose, "diatonic").text = str(_letters_apart(chromatic))
    Xml.SubElement(transpose, "chromatic").text = str(chromatic)
    if octaves:
        Xml.SubElement(transpose, "octave-change").text = str(octaves)


def _letters_apart(half_steps: int) -> int:
    """Count the letters between a written C and what sounds, as the instrument is named after."""
    middle_c = 60
    sounding, written = notes.spelling(middle_c + half_steps), notes.spelling(middle_c)
    return sounding.staff_step - written.staff_step


def _tempo(measure: Xml.Element, plan: BlockPlan) -> None:
    direction = Xml.SubElement(measure, "direction", placement="above")
    metronome = Xml.SubElement(Xml.SubElement(direction, "direction-type"), "metronome")
    Xml.SubElement(metronome, "beat-unit").text = "quarter"
    Xml.SubElement(metronome, "per-minute").text = str(plan.tempo)
    Xml.SubElement(direction, "sound", tempo=str(plan.tempo))


def _dynamic(measure: Xml.Element, step: Step, before: Step | None) -> None:
    """Write a level where it changes; a shape stands at every note."""
    if step.dynamic in set(Shape) or (before and before.dynamic == step.dynamic):
        return
    direction = Xml.SubElement(measure, "direction", placement="below")
    dynamics = Xml.SubElement(Xml.SubElement(direction, "direction-type"), "dynamics")
    Xml.SubElement(dynamics, step.dynamic)


def _wedge(measure: Xml.Element, kind: str) -> None:
    direction = Xml.SubElement(measure, "direction", placement="below")
    Xml.SubElement(Xml.SubElement(direction, "direction-type"), "wedge", type=kind)


def _held(measure: Xml.Element, plan: BlockPlan, step: Step) -> None:
    """Write one held note as tied heads, with the wedges that lie under them."""
    values = list(_split(plan.hold))
    wedges = _WEDGES[Shape(step.dynamic)] if step.dynamic in set(Shape) else ()
    passed = 0
    for place, quarters in enumerate(values):
        for number, (kind, share) in enumerate(wedges):
            begins = round(share * plan.hold)
            if passed <= begins < passed + quarters:
                if number:
                    _wedge(measure, "stop")
                _wedge(measure, kind)
        _note(measure, step, quarters, first=place == 0, last=place == len(values) - 1)
        passed += quarters
    if wedges:
        _wedge(measure, "stop")


def _note(measure: Xml.Element, step: Step, quarters: int, *, first: bool, last: bool) -> None:
    note = Xml.SubElement(measure, "note")
    spelled = notes.spelling(step.written)
    pitch = Xml.SubElement(note, "pitch")
    Xml.SubElement(pitch, "step").text = spelled.letter
    if spelled.accidental:
        Xml.SubElement(pitch, "alter").text = "1" if spelled.accidental == "sharp" else "-1"
    Xml.SubElement(pitch, "octave").text = str(spelled.octave)
    Xml.SubElement(note, "duration").text = str(quarters * DIVISIONS)
    ties = [kind for kind, there in (("stop", not first), ("start", not last)) if there]
    for kind in ties:
        Xml.SubElement(note, "tie", type=kind)
    _value(note, quarters)
    if ties or first:
        notations = Xml.SubElement(note, "notations")
        for kind in ties:
            Xml.SubElement(notations, "tied", type=kind)
        if first:
            technical = Xml.SubElement(notations, "technical")
            Xml.SubElement(technical, "fingering").text = step.fingering
            articulations = Xml.SubElement(notations, "articulations")
            Xml.SubElement(articulations, "tenuto")


def _rest(measure: Xml.Element, quarters: int) -> None:
    note = Xml.SubElement(measure, "note")
    Xml.SubElement(note, "rest")
    Xml.SubElement(note, "duration").text = str(quarters * DIVISIONS)
    _value(note, quarters)


def _value(note: Xml.Element, quarters: int) -> None:
    _, name, dotted = next(value for value in _VALUES if value[0] == quarters)
    Xml.SubElement(note, "type").text = name
    if dotted:
        Xml.SubElement(note, "dot")


def _split(quarters: int) -> Iterator[int]:
    """Cut a length into what noteheads can last, the longest first."""
    while quarters:
        value = min(quarters, WHOLE)
        yield value
        quarters -= value
