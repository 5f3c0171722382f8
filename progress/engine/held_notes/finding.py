"""Finding the held notes: runs of clear, loud enough sound at one pitch."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from progress.engine.held_notes import contour
from progress.engine.held_notes.level import Power
from progress.engine.held_notes.signals import Bands, Numbers

CLEAR = 0.80
ABOVE_FLOOR = 8.0
BELOW_LOUD = 38.0
FLOOR_SHARE = 8
LOUD_SHARE = 95
LEAST_CONTRAST = 25.0
JUMP_CENTS = 70.0
BREAK_SECONDS = 0.4
SLIP_SECONDS = 0.05
SHORTEST_SECONDS = 0.8
# Talk in a rest is made of short pieces that glide: a note has 0.4 s that sound and stay.
HELD_FRAMES = 20
HELD_SHARE = 0.8
# An octave and a twelfth, either way: what a look at one frame mistakes for the note.
SLIPS = (1200.0, 1901.955)
LEVEL_OF_NOTHING = -75.0


@dataclass(frozen=True, kw_only=True)
class Run:
    """One held note as it is first seen: from, to (s), about which pitch (Hz)."""

    begin: float
    end: float
    hertz: float


@dataclass(frozen=True, kw_only=True)
class Found:
    """The runs of a clip; the levels of its rests and of its loud parts (dBFS); the first look."""

    runs: tuple[Run, ...]
    floor: float
    loud: float
    seen: contour.Contour

    def clarity(self, begin: float, end: float) -> float | None:
        """Give the median clarity of the looks that lie within a stretch (s); None with none."""
        half = self.seen.window / 2
        within = (self.seen.times >= begin + half) & (self.seen.times <= end - half)
        return float(np.median(self.seen.clarity[within])) if within.any() else None


def find(bands: Bands, power: Power) -> Found:
    """Find the notes of a clip that are held for 0.8 s or longer."""
    seen = contour.coarse(bands.coarse)
    level = power.steady(seen.times)
    loud = float(np.percentile(level, LOUD_SHARE))
    low = float(np.percentile(level, FLOOR_SHARE))
    floor = min(low, loud - LEAST_CONTRAST)
    least = max(floor + ABOVE_FLOOR, loud - BELOW_LOUD, LEVEL_OF_NOTHING)
    voiced = (seen.clarity >= CLEAR) & (level > least) & (seen.hertz > contour.LOWEST_HERTZ)
    pieces = _pieces(voiced, seen.hertz)
    runs = _kept(_joined(pieces), voiced, seen)
    return Found(
        runs=runs,
        floor=floor,
        loud=loud,
        seen=seen,
    )


@dataclass
class _Piece:
    """Frames first to last, both included, and the median pitch (cents above 1 Hz)."""

    first: int
    last: int
    cents: float
    frames: int


def _pieces(voiced: NDArray[np.bool_], hertz: Numbers) -> list[_Piece]:
    """Cut voiced stretches where the median pitch of five frames jumps."""
    pieces: list[_Piece] = []
    pitch = 1200 * np.log2(np.maximum(hertz, 1.0))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], voiced.astype(np.int8), [0]))))
    for first, behind in zip(edges[::2], edges[1::2], strict=True):
        smooth = _median_of_five(pitch[first:behind])
        cuts = np.flatnonzero(np.abs(np.diff(smooth)) > JUMP_CENTS) + 1
        for begin, end in zip([0, *cuts], [*cuts, behind - first], strict=True):
            pieces.append(
                _Piece(
                    first=int(first + begin),
                    last=int(first + end - 1),
                    cents=float(np.median(smooth[begin:end])),
                    frames=int(end - begin),
                )
            )
    return pieces


def _median_of_five(values: Numbers) -> Numbers:
    padded = np.pad(values, 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5)
    return np.asarray(np.median(windows, axis=1))


def _joined(pieces: list[_Piece]) -> list[_Piece]:
    """Put together what a short break, or a slip of the octave, has parted."""
    joined: list[_Piece] = []
    for piece in pieces:
        for back in (1, 2):
            if len(joined) >= back and _belong_together(joined[-back], piece):
                del joined[len(joined) - back + 1 :]
                _append(joined[-1], piece)
                break
        else:
            joined.append(piece)
    return joined


def _belong_together(one: _Piece, other: _Piece) -> bool:
    gap = (other.first - one.last - 1) * contour.COARSE_STEP
    apart = abs(one.cents - other.cents)
    if gap <= BREAK_SECONDS and apart < JUMP_CENTS:
        return True
    return gap <= SLIP_SECONDS and any(abs(apart - slip) < JUMP_CENTS for slip in SLIPS)


def _append(one: _Piece, other: _Piece) -> None:
    """The longer piece tells the pitch; a slip of the octave does not move it."""
    if abs(one.cents - other.cents) < JUMP_CENTS:
        total = one.frames + other.frames
        one.cents = (one.cents * one.frames + other.cents * other.frames) / total
    elif other.frames > one.frames:
        one.cents = other.cents
    one.frames += other.frames
    one.last = other.last


def _kept(
    pieces: list[_Piece], voiced: NDArray[np.bool_], seen: contour.Contour
) -> tuple[Run, ...]:
    half = contour.COARSE_STEP / 2
    runs = [
        Run(
            begin=float(seen.times[piece.first]) - half,
            end=float(seen.times[piece.last]) + half,
            hertz=float(2 ** (piece.cents / 1200)),
        )
        for piece in pieces
        if _is_held(piece, voiced, seen)
    ]
    return tuple(run for run in runs if run.end - run.begin >= SHORTEST_SECONDS)


def _is_held(piece: _Piece, voiced: NDArray[np.bool_], seen: contour.Contour) -> bool:
    """Tell a held note from talk: somewhere four fifths of 0.4 s lie near one pitch."""
    part = slice(piece.first, piece.last + 1)
    pitch = np.where(voiced[part], contour.cents(seen.hertz[part], 1.0), np.inf)
    if len(pitch) < HELD_FRAMES:
        return False
    windows = np.lib.stride_tricks.sliding_window_view(pitch, HELD_FRAMES)
    sounding = windows[np.mean(np.isfinite(windows), axis=1) >= HELD_SHARE]
    # What does not sound is sorted behind, so the median is a little high: by less than a waver.
    away = np.abs(sounding - np.median(sounding, axis=1, keepdims=True))
    return bool((np.mean(away <= JUMP_CENTS, axis=1) >= HELD_SHARE).any())
