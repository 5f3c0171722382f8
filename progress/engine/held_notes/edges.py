"""Where a note starts and ends, and how quickly: from levels beside its own head and tail."""

from dataclasses import dataclass

import numpy as np

from progress.engine.held_notes.finding import Found, Run
from progress.engine.held_notes.level import EDGE_STEP, EDGE_WINDOW, LEVEL_WINDOW, Envelope, Power

EDGE_DROP = 10.0
SOUNDING_DROP = 3.0
FAR_DROP = 20.0
ABOVE_FLOOR = 6.0
SETTLING = 0.150
HEAD = (0.4, 0.8)
TAIL = (0.35, 0.08)
LONG_TAIL = (1.0, 0.3)
NO_RETURN = 0.45
NO_RETURN_DROP = 6.0
COARSER = 5
LOOK_AROUND = 1.0
FALSE_START_SECONDS = 0.45
FALSE_START_DIP = 8.0
FALSE_START_BELOW_HEAD = 9.0
FALSE_START_PIECE = 0.040
FALSE_START_FAINT = 18.0
FALSE_START_RISE = 6.0
# A breath before the note is no false start; too short a piece for one look counts as a tone.
BREATH_CLARITY = 0.6
BREAK_DROP = 12.0
BREAK_PIECE = 0.050
DECAY_TOP, DECAY_RANGE, LEAST_DECAY = 8.0, 30.0, 12.0


@dataclass(frozen=True, kw_only=True)
class Edges:
    """One note by its level.

    start, end (s); the levels of its head and its tail (dBFS); the stretch that counts as steady
    (s); attack and release (ms) or None; whether a false start came before; seconds broken off;
    the seconds a sound takes to fall by 60 dB after the end, or None.
    """

    start: float
    end: float
    head: float
    tail: float
    steady: tuple[float, float]
    attack: float | None
    release: float | None
    false_start: bool
    breaks: float
    decay: float | None
    slow: Envelope


def find_edges(
    run: Run, found: Found, power: Power, room: tuple[float, float], rests: float | None
) -> Edges:
    """Find the edges of one run; `room` is from the note before to the note behind (s)."""
    window = max(EDGE_WINDOW, 2 / run.hertz)
    since = max(room[0], run.begin - LOOK_AROUND)
    until = min(room[1], run.end + LOOK_AROUND)
    quick = power.envelope(since, until, window)
    slow = power.envelope(since, until, max(LEVEL_WINDOW, 4 / run.hertz))
    noise = found.floor if rests is None else rests
    start, head = _start(quick, run, since, noise)
    end, tail = _end(quick, run, start, until, noise)
    rise = quick.first_rise(head - SOUNDING_DROP, start, end)
    fall = quick.last_fall(tail - SOUNDING_DROP, end, start)
    first, last = rise or start, fall or end
    least = found.floor + ABOVE_FLOOR
    return Edges(
        start=start,
        end=end,
        head=head,
        tail=tail,
        steady=(first + SETTLING, last - SETTLING),
        attack=_attack(quick, start, head, since, first) if head - FAR_DROP >= least else None,
        release=_release(quick, end, tail, until, last) if tail - FAR_DROP >= least else None,
        false_start=_has_false_start(quick, start, head, window, found),
        breaks=_breaks(quick, first, last),
        decay=_decay(quick, end, tail, until, found.floor),
        slow=slow,
    )


def _start(quick: Envelope, run: Run, since: float, noise: float) -> tuple[float, float]:
    """Walk back from the steady part to the last rise through 10 dB below the head."""
    length = run.end - run.begin
    start, head = run.begin, 0.0
    for _ in range(2):
        early = min(HEAD[0], 0.4 * length)
        head = quick.median(start + early, start + min(HEAD[1], 0.8 * length))
        reach = start + min(FALSE_START_SECONDS, 0.5 * length)
        # A break may lie just there: walk from a place that belongs to the note.
        anchor = quick.last_fall(head - EDGE_DROP / 2, reach, since)
        rise = quick.last_rise(_edge(head, noise), anchor or reach, since)
        start = since if rise is None else rise
    return start, head


def _edge(steady: float, noise: float) -> float:
    """Give the level of an edge: 10 dB below, but half-way at least above a loud noise."""
    return max(steady - EDGE_DROP, (steady + noise) / 2)


def _end(
    quick: Envelope, run: Run, start: float, until: float, noise: float
) -> tuple[float, float]:
    """Find the first fall to 10 dB below the tail from which the sound does not come back.

    The tail at any instant is the median of what lay 0.35 to 0.08 s before it, so a diminuendo does
    not end a note; where a large room lets nothing fall that quickly, 1.0 to 0.3 s before it.
    """
    since = start + min(HEAD[0], 0.4 * (run.end - start))
    for lag in (TAIL, LONG_TAIL):
        near = _falls_for_good(quick, since, until, lag)
        if near is not None:
            break
    else:
        near, lag = run.end, TAIL
    end = near
    tail = 0.0
    for _ in range(2):
        begin = max(end - lag[0], since)
        tail = quick.median(begin, max(end - lag[1], begin + 0.02))
        fall = quick.first_fall(_edge(tail, noise), max(near - TAIL[0] / 2, since), until)
        end = near if fall is None else fall
    return end, tail


def _falls_for_good(
    quick: Envelope, since: float, until: float, lag: tuple[float, float]
) -> float | None:
    """Walk along in steps of 10 ms: when is the level 10 dB below its tail, and stays there."""
    first, stop = quick.index(since), quick.index(until)
    level = quick.level[first:stop:COARSER]
    step = COARSER * EDGE_STEP
    far, close, ahead = (round(value / step) for value in (*lag, NO_RETURN))
    if len(level) <= far:
        return None
    behind = np.lib.stride_tricks.sliding_window_view(level, far - close)
    tail = np.median(behind, axis=1)[: len(level) - far]
    here = level[far:]
    padded = np.concatenate((here, np.full(ahead, -np.inf)))
    coming = np.lib.stride_tricks.sliding_window_view(padded, ahead).max(axis=1)[: len(here)]
    places = np.flatnonzero((tail - here >= EDGE_DROP) & (coming < tail - NO_RETURN_DROP))
    return None if not len(places) else float(quick.times[first + COARSER * (far + places[0])])


def _attack(quick: Envelope, start: float, head: float, since: float, first: float) -> float | None:
    """Measure from 20 dB to 3 dB below the head, in ms."""
    low = quick.last_rise(head - FAR_DROP, start, since)
    return None if low is None else 1000 * (first - low)


def _release(quick: Envelope, end: float, tail: float, until: float, last: float) -> float | None:
    """Measure from 3 dB to 20 dB below the tail, in ms."""
    low = quick.first_fall(tail - FAR_DROP, end, until)
    return None if low is None else 1000 * (low - last)


def _has_false_start(
    quick: Envelope, start: float, head: float, window: float, found: Found
) -> bool:
    """Look for a piece of sound that broke off within 0.45 s before the note stood."""
    first = quick.index(start - FALSE_START_SECONDS)
    level = quick.level[first : quick.index(start + FALSE_START_SECONDS)]
    highest = np.maximum.accumulate(level)
    # Below the note and below a piece that came before it: the silence before both is no dip.
    is_dip = (level < head - FALSE_START_BELOW_HEAD) & (level <= highest - FALSE_START_DIP)
    is_dip &= highest >= head - FALSE_START_FAINT
    step = float(quick.times[1] - quick.times[0])
    for dip in _lowest_of_each(level, np.flatnonzero(is_dip)):
        before = level[max(0, dip - round(FALSE_START_SECONDS / step)) : dip]
        if not (level[dip:] >= head - SOUNDING_DROP).any():
            continue
        peak, place = float(before.max()), first + dip - len(before) + int(before.argmax())
        # What only falls is the end of the note before, in a room that holds it.
        if not (quick.level[:place] < peak - FALSE_START_RISE).any():
            continue
        loud = np.flatnonzero(before >= peak - FALSE_START_DIP)
        # The envelope itself makes a click as long as its window.
        if len(loud) * step < max(FALSE_START_PIECE, 1.3 * window):
            continue
        piece = quick.times[first + dip - len(before) + loud[[0, -1]]]
        clarity = found.clarity(float(piece[0]), float(piece[1]))
        if clarity is None or clarity >= BREATH_CLARITY:
            return True
    return False


def _lowest_of_each(level: np.ndarray, low: np.ndarray) -> list[int]:
    groups = np.split(low, np.flatnonzero(np.diff(low) > 1) + 1) if len(low) else []
    return [int(group[np.argmin(level[group])]) for group in groups]


def _breaks(quick: Envelope, first: float, last: float) -> float:
    """Add up the seconds in which the sound broke off inside the hold."""
    level = quick.level[quick.index(first) : quick.index(last)]
    if len(level) < 2:
        return 0.0
    step = float(quick.times[1] - quick.times[0])
    low = np.flatnonzero(level < np.median(level) - BREAK_DROP)
    groups = np.split(low, np.flatnonzero(np.diff(low) > 1) + 1) if len(low) else []
    pieces = [len(group) * step for group in groups]
    return float(sum(piece for piece in pieces if piece >= BREAK_PIECE))


def _decay(quick: Envelope, end: float, tail: float, until: float, floor: float) -> float | None:
    """Lay a line through the dying sound: seconds for 60 dB; None where too little of it shows."""
    lowest = max(floor + ABOVE_FLOOR, tail - DECAY_TOP - DECAY_RANGE)
    begin = quick.first_fall(tail - DECAY_TOP, end - TAIL[1], until)
    stop = None if begin is None else quick.first_fall(lowest, begin, until)
    if begin is None or stop is None or tail - DECAY_TOP - lowest < LEAST_DECAY:
        return None
    return 60 * (stop - begin) / (tail - DECAY_TOP - lowest)
