"""The table of errors over a labelled set: what was missed, and how far the figures were off."""

from dataclasses import dataclass, field

import numpy as np

from progress.engine.held_notes.analysis import measure
from progress.engine.held_notes.answer import as_json
from progress.engine.held_notes.request import Request

FLAGS = ("false_start", "wrong_partial", "scoop", "sag")


@dataclass
class Table:
    """Errors by figure, with the clip each came from."""

    notes: int = 0
    missed: list[str] = field(default_factory=list)
    extra: list[str] = field(default_factory=list)
    octaves: list[str] = field(default_factory=list)
    errors: dict[str, list[tuple[float, str]]] = field(default_factory=dict)
    flags_missed: list[str] = field(default_factory=list)
    false_alarms: list[str] = field(default_factory=list)
    flags_judged: int = 0

    def add(self, name, where, value, truth):
        if value is None:
            self.errors.setdefault(f"{name} blank", []).append((0.0, where))
        else:
            self.errors.setdefault(name, []).append((abs(value - truth), where))

    def quantile(self, name, share):
        """The error that this share of the notes stays below, from 0 to 1."""
        return float(np.quantile([error for error, _ in self.errors[name]], share))

    def worst(self, name, count=5):
        return sorted(self.errors[name], reverse=True)[:count]

    def lines(self):
        """The table in words."""
        yield f"{self.notes} notes: {len(self.missed)} missed, {len(self.extra)} extra, " + (
            f"{len(self.octaves)} octave errors"
        )
        for name in sorted(self.errors):
            errors = [error for error, _ in self.errors[name]]
            yield f"{name}: n {len(errors)}, median {np.median(errors):.3f}, 95th " + (
                f"{np.quantile(errors, 0.95):.3f}, largest {max(errors):.3f}"
            )
        yield f"flags: {self.flags_judged} judged, {len(self.flags_missed)} missed, " + (
            f"{len(self.false_alarms)} false alarms"
        )


def measured(clip, **more):
    """Run the analysis on a clip; its JSON object."""
    request = Request(tempo=clip.tempo, hold=clip.hold, rest=clip.rest, **more)
    return as_json(measure(clip.samples, clip.rate, request))


def enter(table, clip, answer):
    """Compare one answer with the clip's labels."""
    left = list(answer["notes"])
    for number, label in enumerate(clip.labels):
        where = f"{clip.name} {number}"
        table.notes += 1
        over = [
            n for n in left if min(n["end_s"], label.end_s) - max(n["start_s"], label.start_s) > 0.4
        ]
        if not over:
            table.missed.append(where)
            continue
        note = over[0]
        left.remove(note)
        _compare(table, clip, where, note, label)
    table.extra.extend(f"{clip.name} at {note['start_s']}" for note in left)


def _compare(table, clip, where, note, label):
    cents = 100 * (note["midi_heard"] - label.midi) + (note["cents"] or 0)
    if abs(cents - label.cents) > 600:
        table.octaves.append(where)
        return
    table.add("pitch", where, None if note["cents"] is None else cents, label.cents)
    hold = 1000 * (note["end_s"] - note["start_s"])
    table.add(
        "hold in rooms" if clip.rooms else "hold", where, hold, 1000 * (label.end_s - label.start_s)
    )
    table.add("start", where, 1000 * note["start_s"], 1000 * label.start_s)
    table.add("spread", where, note["pitch_spread"], label.pitch_spread)
    table.add("drift", where, note["pitch_drift"], label.pitch_drift)
    if clip.has_level:
        table.add("level drift", where, note["level_drift"], label.level_drift)
        table.add("level spread", where, note["level_spread"], label.level_spread)
    if clip.is_dry:
        table.add("attack", where, note["attack_ms"], label.attack_ms)
        table.add("breaks", where, 1000 * note["breaks_s"], 1000 * label.breaks_s)
    if label.vibrato:
        table.add("vibrato rate", where, note["vibrato_rate"], label.vibrato[0])
        table.add("vibrato depth", where, note["vibrato_depth"], label.vibrato[1])
    _compare_flags(table, where, note, label)


def _compare_flags(table, where, note, label):
    unclear = {
        "scoop": abs(label.start_dev + 12) < 4 or 0 < label.wrong_seconds < 0.05,
        "sag": abs(label.end_dev + 15) < 5,
        "wrong_partial": 0.01 < label.wrong_seconds < 0.05,
    }
    for flag in FLAGS:
        # So near to the bound of its definition nobody could say which it is.
        if unclear.get(flag):
            continue
        table.flags_judged += 1
        if label.flags[flag] and not note[flag]:
            table.flags_missed.append(f"{where} {flag} {note['start_dev']} {note['end_dev']}")
        if note[flag] and not label.flags[flag]:
            table.false_alarms.append(f"{where} {flag} {note['start_dev']} {note['end_dev']}")
