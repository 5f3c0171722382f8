"""One recording of held notes, measured: evidence beside the player's word, never a grade."""

from dataclasses import dataclass

import numpy as np

from progress.engine.held_notes import contour, spectrum
from progress.engine.held_notes.cautions import (
    NOISY_BELOW,
    QUIET_BELOW,
    REVERBERANT_FROM,
    SHORTEST_CLIP,
    Caution,
    Raw,
    has_gap,
    look_at,
)
from progress.engine.held_notes.edges import Edges, find_edges
from progress.engine.held_notes.figures import (
    SHORTEST_STEADY,
    LevelFigures,
    PitchFigures,
    level_figures,
    pitch_figures,
)
from progress.engine.held_notes.finding import Found, Run, find
from progress.engine.held_notes.level import Power
from progress.engine.held_notes.request import Request
from progress.engine.held_notes.signals import Bands, Samples, bands, mix
from progress.engine.held_notes.transients import Transients, transients

OUTSIDE = 0.25
FEWEST_QUIET_FRAMES = 10


@dataclass(frozen=True, kw_only=True)
class Note:
    """What was measured of one held note; None is a figure that would not be true."""

    edges: Edges
    transients: Transients
    pitch: PitchFigures | None
    level: LevelFigures | None
    heard_hertz: float
    richness: float | None


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A whole clip: its notes, its cautions, the level of its rests (dBFS, or None)."""

    notes: tuple[Note, ...]
    cautions: tuple[Caution, ...]
    rests: float | None
    request: Request


def measure(samples: Samples, rate: int, request: Request, *, eight_bits: bool = False) -> Measured:
    """Measure a clip of (frames,) or (frames, channels), full scale 1, at this rate (Hz)."""
    raw = look_at(samples, rate, eight_bits=eight_bits)
    clip = bands(mix(samples), rate)
    power = Power(clip.whole)
    found = find(clip, power)
    rests = _level_of_rests(power, found.runs)
    edges = _all_edges(found, power, rests)
    notes = tuple(
        _note(run, edge, clip, rests) for run, edge in zip(found.runs, edges, strict=True)
    )
    cautions = _cautions(notes, raw, clip, found, rests, request)
    return Measured(notes=notes, cautions=cautions, rests=rests, request=request)


def _level_of_rests(power: Power, runs: tuple[Run, ...]) -> float | None:
    """Give the level of what is no note, a quarter of a second from any; None without silence."""
    times = np.arange(0.02, power.seconds - 0.02, 0.02)
    outside = np.ones(len(times), dtype=bool)
    for run in runs:
        outside &= (times < run.begin - OUTSIDE) | (times > run.end + OUTSIDE)
    if np.count_nonzero(outside) < FEWEST_QUIET_FRAMES:
        return None
    return float(np.percentile(power.steady(times[outside]), 25))


def _all_edges(found: Found, power: Power, rests: float | None) -> list[Edges]:
    edges: list[Edges] = []
    for place, run in enumerate(found.runs):
        before = edges[-1].end if edges else 0.0
        behind = found.runs[place + 1].begin if place + 1 < len(found.runs) else power.seconds
        edges.append(find_edges(run, found, power, (before, behind), rests))
    return edges


def _note(run: Run, edge: Edges, clip: Bands, rests: float | None) -> Note:
    times = np.arange(edge.steady[0], edge.steady[1], contour.FINE_STEP)
    window = contour.fine_window(run.hertz)
    pitch = None
    if len(times):
        seen = contour.fine((clip.fine, clip.coarse), times, window, run.hertz)
        pitch = pitch_figures(seen, run.hertz, edge.steady)
    hertz = run.hertz if pitch is None else pitch.hertz
    return Note(
        edges=edge,
        transients=transients(clip, edge.start, edge.end, hertz),
        pitch=pitch,
        level=level_figures(edge, rests),
        heard_hertz=hertz,
        richness=spectrum.richness(clip.whole, edge.steady, hertz),
    )


def _cautions(
    notes: tuple[Note, ...],
    raw: Raw,
    clip: Bands,
    found: Found,
    rests: float | None,
    request: Request,
) -> tuple[Caution, ...]:
    decays = [note.edges.decay for note in notes if note.edges.decay is not None]
    levels = [note.level.middle for note in notes if note.level is not None]
    middle = float(np.median(levels)) if levels else found.loud
    too_short = clip.whole.seconds < SHORTEST_CLIP or any(
        note.edges.steady[1] - note.edges.steady[0] < SHORTEST_STEADY or note.pitch is None
        for note in notes
    )
    holds = {
        Caution.PROCESSED: request.processed,
        Caution.CLIPPED: raw.clipped,
        Caution.QUIET: middle < QUIET_BELOW,
        Caution.NOISY: rests is not None and bool(notes) and middle - rests < NOISY_BELOW,
        Caution.REVERBERANT: bool(decays) and float(np.median(decays)) >= REVERBERANT_FROM,
        Caution.GAP: any(has_gap(raw.gaps, note.edges.start, note.edges.end) for note in notes),
        Caution.NO_SILENCE: rests is None,
        Caution.TOO_SHORT: too_short,
        Caution.NARROW_BAND: clip.whole.rate / 2 < spectrum.HIGHEST_HERTZ,
        Caution.NO_NOTES: not notes,
        Caution.NOT_AS_EXPECTED: bool(request.expected) and len(notes) != len(request.expected),
    }
    return tuple(caution for caution, is_so in holds.items() if is_so)
