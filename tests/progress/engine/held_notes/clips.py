"""The labelled set: one clip for every trouble that playing and recording can have."""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from tests.progress.engine.held_notes.playing import Label, Played, sound
from tests.progress.engine.held_notes.surroundings import Surroundings, put_into

LEAD = 1.2


@dataclass(frozen=True, kw_only=True)
class Clip:
    """A clip to be measured, and what is true of it."""

    name: str
    samples: np.ndarray
    rate: int
    labels: tuple[Label, ...]
    tempo: float
    hold: float
    rest: float
    is_dry: bool
    has_level: bool
    rooms: bool


@dataclass(frozen=True, kw_only=True)
class Case:
    """What to make: notes (MIDI), how they are played, where, and how it is stored."""

    name: str
    notes: tuple[int, ...]
    hold: int = 4
    rest: int = 3
    tempo: float = 90.0
    playing: dict[str, Any] = field(default_factory=dict)
    each: dict[int, dict[str, Any]] = field(default_factory=dict)
    place: Surroundings = field(default_factory=Surroundings)
    rate: int = 48_000


def make(case, seed):
    """Make one clip of a case."""
    rng = np.random.default_rng([seed, sum(map(ord, case.name))])
    beat = 60 / case.tempo
    cycle = (case.hold + case.rest) * beat
    whole = np.zeros(int((LEAD + cycle * len(case.notes) + 1.0) * case.rate))
    labels = []
    for index, midi in enumerate(case.notes):
        note = _as_played(case, index, midi, cycle, beat, rng)
        made, label = sound(note, case.rate, rng)
        first = round((note.start - 0.6) * case.rate)
        whole[first : first + len(made)] += made
        labels.append(label)
    place = case.place
    samples = put_into(whole, case.rate, place, rng, beat)
    return Clip(
        name=case.name,
        samples=samples.astype(np.float32),
        rate=case.rate,
        labels=tuple(labels),
        tempo=case.tempo,
        hold=case.hold,
        rest=case.rest,
        is_dry=place.room is None,
        has_level=place.room is None and not place.gain_control and place.clip_at is None,
        rooms=place.room is not None and place.room[0] >= 0.5,
    )


def _as_played(case, index, midi, cycle, beat, rng):
    note = Played(
        midi=midi,
        start=LEAD + index * cycle + rng.uniform(-0.04, 0.04),
        hold=case.hold * beat + rng.uniform(-0.06, 0.06),
        cents=rng.uniform(-25, 25),
        wander=rng.uniform(0.3, 1.2),
        attack=rng.uniform(0.025, 0.09),
        release=rng.uniform(0.05, 0.12),
        slope=rng.uniform(3, 9),
        swell=rng.uniform(-1.5, 1.5),
    )
    changed = case.playing | case.each.get(index, {})
    return replace(note, **changed)


TRUMPET = (70, 69, 68)
HIGH = (82, 84, 86)
HORN = (60, 59, 58)
LOW = (46, 45, 44)
TUBA = (34, 33, 32)
PEDAL = (26, 24, 23)
ODD_RATES = (8_000, 11_025, 16_000, 22_050, 24_000, 32_000, 44_100, 96_000)


def cases():
    """List the cases: at least one for every trouble."""
    return [*_through_the_range(), *_single_troubles(), *_around_the_start()]


def _through_the_range():
    for name, notes in (
        ("trumpet", TRUMPET),
        ("high", HIGH),
        ("horn", HORN),
        ("trombone", LOW),
        ("tuba", TUBA),
        ("pedal", PEDAL),
    ):
        weak = {"faint_first": 20.0} if notes[0] < 40 else {}
        yield Case(name=f"{name} plain", notes=notes, playing=weak)
        yield Case(name=f"{name} vibrato", notes=notes, playing=weak | {"vibrato": (5.4, 14.0)})
        yield Case(name=f"{name} drift", notes=notes, playing=weak | {"drift": -18.0})
        ends = {0: {"scoop": 45.0}, 1: {"sag": 40.0}, 2: {"scoop": 30.0, "sag": 30.0}}
        yield Case(name=f"{name} scoop and sag", notes=notes, playing=weak, each=ends)
        wrongs = {0: {"wrong": (4 / 3, 0.1)}, 1: {"false_start": (0.09, 0.08)}, 2: {}}
        yield Case(name=f"{name} wrong start", notes=notes, playing=weak, each=wrongs)
        yield (
            Case(name=f"{name} room", notes=notes, playing=weak, place=Surroundings(room=(0.35, 6)))
        )
        yield (
            Case(name=f"{name} hall", notes=notes, playing=weak, place=Surroundings(room=(0.8, 3)))
        )
        yield Case(name=f"{name} noisy", notes=notes, playing=weak, place=Surroundings(noise=-45))
        phone = Surroundings(band=(220.0, 7000.0), noise=-65)
        yield Case(name=f"{name} phone", notes=notes, playing=weak, place=phone)
        yield Case(name=f"{name} gain", notes=notes, place=Surroundings(gain_control=True))


def _single_troubles():
    wrong_octaves: dict[int, dict[str, Any]] = {
        0: {"wrong": (2.0, 0.12)},
        1: {"wrong": (0.5, 0.12)},
    }
    for rate in ODD_RATES:
        yield Case(name=f"at {rate}", notes=(62, 61), rate=rate)
    breaks: dict[int, dict[str, Any]] = {
        0: {"breaks": ((1.2, 0.12),)},
        1: {"breaks": ((1.0, 0.2), (1.8, 0.1))},
    }
    yield Case(name="breaks", notes=HORN, each=breaks)
    yield Case(name="hum", notes=LOW, place=Surroundings(hum=(50.0, -58.0)))
    yield Case(name="hum of sixty", notes=TRUMPET, place=Surroundings(hum=(60.0, -50.0)))
    yield Case(name="click", notes=TRUMPET, place=Surroundings(click=-35.0))
    yield Case(name="loud click", notes=HORN, place=Surroundings(click=-28.0))
    yield Case(name="breath", notes=HORN, place=Surroundings(breath=-50.0))
    yield Case(name="clipped", notes=TRUMPET, place=Surroundings(gain=12.0, clip_at=0.6))
    yield Case(name="quiet", notes=HORN, place=Surroundings(gain=-30.0, noise=-70))
    yield Case(name="offset", notes=HORN, place=Surroundings(offset=0.02))
    yield Case(name="even partials", notes=HORN, playing={"even": 9.0})
    yield Case(name="faint first", notes=LOW, playing={"faint_first": 30.0})
    yield Case(name="nearly a sine", notes=HIGH, playing={"slope": 18.0})
    yield Case(name="very bright", notes=LOW, playing={"slope": 0.5})
    yield Case(name="beating", notes=HORN, playing={"beating": (0.9, 2.0)})
    yield Case(name="slow attack", notes=HORN, playing={"attack": 0.25, "release": 0.3})
    yield Case(name="hard attack", notes=TRUMPET, playing={"attack": 0.008, "release": 0.02})
    yield Case(name="swell", notes=HORN, playing={"swell": 9.0})
    yield Case(name="fade", notes=HORN, playing={"swell": -9.0})
    yield Case(name="half steps", notes=(65, 64, 63, 62, 61), hold=3, rest=2, tempo=100)
    yield Case(name="loud and soft", notes=HORN, each={1: {"level": -34.0}})
    yield (
        Case(
            name="octave slip",
            notes=HORN,
            each=wrong_octaves,
        )
    )
    yield Case(name="sharp start", notes=HORN, playing={"scoop": -9.0})


def _around_the_start():
    """What comes shortly before a note: a breath, talk, a faint false start, the note before."""
    faint = {"false_start": (0.15, 0.12), "false_start_size": 0.2}
    for name, notes in (("trumpet", TRUMPET), ("tuba", TUBA)):
        weak = {"faint_first": 9.0}
        in_tune = weak | {"cents": 4.0}
        for long, gap in ((0.35, 0.1), (0.8, 0.2)):
            breath = {"level": -30.0, "intake": (long, gap, 13.0)}
            yield Case(name=f"{name} breath in {long}", notes=notes, playing=weak | breath)
        # In each rest, from a third of a second after the note on.
        talk = Surroundings(talk=((LEAD + 3.0, LEAD + 8.7), -30.0))
        yield Case(name=f"{name} talk", notes=notes, rest=4, playing=weak, place=talk)
        yield Case(name=f"{name} faint false start", notes=notes, playing=weak, each={1: faint})
        for room in ((0.35, 5.0), (0.6, 3.0)):
            quick: dict[str, Any] = {
                "hold": 3,
                "rest": 1,
                "tempo": 140.0,
                "place": Surroundings(room=room),
            }
            yield Case(name=f"{name} short rests {room[0]}", notes=notes, playing=in_tune, **quick)
