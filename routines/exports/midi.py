"""The walk of a block as a Standard MIDI File (MIDI Association, RP-001): click and tones.

Conventions: one count is one quarter note. Track 1 holds the tempo, track 2 the tones at sounding
pitch, track 3 the click on the percussion channel. Four counts of click come before the first note.
A level is a velocity and a volume; a shape inside a note moves the expression.
"""

from io import BytesIO
from typing import Any

import mido

from routines.engine import timeline
from routines.engine.dynamics import Level, Shape
from routines.engine.plan import BlockPlan
from routines.engine.timeline import Step

TICKS = 480
COUNT_IN = 4
TONES_CHANNEL = 0
CLICK_CHANNEL = 9
# General MIDI Level 1: percussion sounds and programs, counted from 0.
HIGH_CLICK, LOW_CLICK = 76, 77
TRUMPET, TROMBONE, TUBA, HORN = 56, 57, 58, 60
CLICK_TICKS = TICKS // 8
EXPRESSION = 11
FULL = 127
PROGRAMS = {
    "trumpet": TRUMPET,
    "cornet": TRUMPET,
    "flugelhorn": TRUMPET,
    "horn": HORN,
    "alto horn": HORN,
    "trombone": TROMBONE,
    "baritone": TROMBONE,
    "euphonium": TUBA,
    "tuba": TUBA,
}
VELOCITIES = {
    Level.PP: 32, Level.P: 48, Level.MP: 64, Level.MF: 80, Level.F: 96, Level.FF: 112,
}  # fmt: skip
# Expression at the start, the middle and the end of a note.
SHAPES = {Shape.SWELL: (50, 127, 50), Shape.FADE: (127, 88, 50), Shape.GROW: (50, 88, 127)}
STEPS_OF_A_SHAPE = 16


def write(plan: BlockPlan, *, title: str, day: int = 1) -> bytes:
    """Write the session of a day of the block, counted from 1."""
    steps = timeline.build(plan, day).steps
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_track([(0, mido.MetaMessage("track_name", name=title)), *_tempo(plan)]))
    file.tracks.append(_track([*_program(plan), *_tones(plan, steps)], name=plan.player.name))
    file.tracks.append(_track(_clicks(plan, len(steps)), name="Click"))
    written = BytesIO()
    file.save(file=written)
    return written.getvalue()


def _tempo(plan: BlockPlan) -> list[tuple[int, Any]]:
    return [(0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(plan.tempo)))]


def _program(plan: BlockPlan) -> list[tuple[int, Any]]:
    program = PROGRAMS.get(plan.player.family, TRUMPET)
    return [(0, mido.Message("program_change", channel=TONES_CHANNEL, program=program))]


def _tones(plan: BlockPlan, steps: tuple[Step, ...]) -> list[tuple[int, Any]]:
    events: list[tuple[int, Any]] = []
    for step in steps:
        starts = (COUNT_IN + step.index * (plan.hold + plan.rest)) * TICKS
        ends = starts + plan.hold * TICKS
        shape = Shape(step.dynamic) if step.dynamic in set(Shape) else None
        velocity = VELOCITIES[Level.MF if shape else Level(step.dynamic)]
        events += _expression(shape, starts, ends)
        sound = {"channel": TONES_CHANNEL, "note": step.sounding}
        events.append((starts, mido.Message("note_on", velocity=velocity, **sound)))
        events.append((ends, mido.Message("note_off", velocity=0, **sound)))
    return events


def _expression(shape: Shape | None, starts: int, ends: int) -> list[tuple[int, Any]]:
    if shape is None:
        return [(starts, _control(FULL))]
    first, middle, last = SHAPES[shape]
    half = STEPS_OF_A_SHAPE // 2
    rising = [first + (middle - first) * place / half for place in range(half)]
    falling = [middle + (last - middle) * place / half for place in range(half + 1)]
    values = [*rising, *falling]
    length = ends - starts
    return [
        (starts + length * place // len(values), _control(round(value)))
        for place, value in enumerate(values)
    ]


def _control(value: int) -> Any:
    return mido.Message("control_change", channel=TONES_CHANNEL, control=EXPRESSION, value=value)


def _clicks(plan: BlockPlan, count: int) -> list[tuple[int, Any]]:
    """Click on every count up to the last release, higher where a note or a rest begins."""
    cycle = plan.hold + plan.rest
    last = COUNT_IN + count * cycle - plan.rest
    events: list[tuple[int, Any]] = []
    for number in range(last):
        inside = (number - COUNT_IN) % cycle
        begins = number >= COUNT_IN and inside in (0, plan.hold)
        note = HIGH_CLICK if begins else LOW_CLICK
        sound = {"channel": CLICK_CHANNEL, "note": note}
        events.append((number * TICKS, mido.Message("note_on", velocity=100, **sound)))
        off = mido.Message("note_off", velocity=0, **sound)
        events.append((number * TICKS + CLICK_TICKS, off))
    return events


def _track(events: list[tuple[int, Any]], *, name: str = "") -> Any:
    """Put events in the order of their ticks; what ends goes before what begins there."""
    track = mido.MidiTrack()
    if name:
        track.append(mido.MetaMessage("track_name", name=name))
    now = 0
    for ticks, message in sorted(events, key=lambda event: (event[0], _rank(event[1]))):
        track.append(message.copy(time=ticks - now))
        now = ticks
    track.append(mido.MetaMessage("end_of_track"))
    return track


def _rank(message: Any) -> int:
    return {"note_off": 0, "note_on": 2}.get(message.type, 1)
