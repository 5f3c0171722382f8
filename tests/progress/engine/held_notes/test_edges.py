"""Where a note starts and ends, on sounds whose level along time is a line that is drawn first.

What is looked for is worked out from that line by the definitions of docs/held-notes.md, which are
choices of this program, no published figures. The decay of a room is the time for 60 dB: ISO 3382.
"""

import numpy as np
import pytest

from progress.engine.held_notes import edges, level, signals
from progress.engine.held_notes.contour import COARSE_FRAME, Contour
from progress.engine.held_notes.finding import Found, Run

RATE = 24_000
SILENCE = -90.0
NONE_SEEN = Contour(times=np.zeros(0), hertz=np.zeros(0), clarity=np.zeros(0), window=COARSE_FRAME)
WINDOW = 0.012  # of an envelope for a note of 1000 Hz


def power_of(*line):
    """A tone of 1000 Hz through these points of (seconds, dB), in between along straight lines."""
    seconds, heights = zip(*line, strict=True)
    at = np.arange(round(seconds[-1] * RATE)) / RATE
    size = np.sqrt(2) * 10 ** (np.interp(at, seconds, heights) / 20)
    samples = (size * np.sin(2 * np.pi * 1000 * at)).astype("f4")
    return level.Power(signals.Signal(samples=samples, rate=RATE))


def held(begin, end, height=-20.0):
    """The four corners of a sound that begins and ends at once."""
    return (begin, SILENCE), (begin + 1e-6, height), (end, height), (end + 1e-6, SILENCE)


def edges_of(power, begin, end, *, hertz=1000.0, rests=SILENCE, floor=SILENCE, look=None):
    run = Run(begin=begin, end=end, hertz=hertz)
    found = (look or Found)(runs=(run,), floor=floor, loud=-20.0, seen=NONE_SEEN)
    return edges.find_edges(run, found, power, (0.0, power.seconds), rests)


def test_a_sound_that_begins_and_ends_at_once_does_so_where_it_does():
    found = edges_of(power_of(*held(1.0, 3.0), (4.0, SILENCE)), 1.0, 3.0)

    assert (found.start, found.end) == pytest.approx((1.0, 3.0), abs=0.004)
    assert (found.head, found.tail) == pytest.approx((-20, -20), abs=0.01)
    assert found.steady == pytest.approx((1.15, 2.85), abs=0.004)
    assert (found.false_start, found.breaks) == (False, 0)


def test_a_run_that_was_seen_too_late_and_for_too_long_moves_no_edge():
    found = edges_of(power_of(*held(1.0, 3.0), (4.5, SILENCE)), 1.2, 3.3)

    assert (found.start, found.end) == pytest.approx((1.0, 3.0), abs=0.004)


# Where a note is no second long, its head goes from 0.4 to 0.8 of it: here the half is loud.
def test_the_head_of_a_short_note_is_its_middle():
    line = (*held(1.0, 1.5)[:3], (1.501, -24), (1.8, -24), (1.801, SILENCE), (2.8, SILENCE))

    assert edges_of(power_of(*line), 1.0, 1.8).head == pytest.approx(-20, abs=0.1)


def test_attack_and_release_are_seventeen_decibels_of_the_rise_and_of_the_fall():
    line = (0, SILENCE), (1.0, SILENCE), (1.35, -20), (3.0, -20), (3.175, SILENCE), (4, SILENCE)

    found = edges_of(power_of(*line), 1.3, 3.1)

    # 70 dB in 350 ms and in 175 ms: 17 of them in 85 and in 42.5.
    assert (found.attack, found.release) == pytest.approx((85, 42.5), abs=1)
    assert (found.start, found.end) == pytest.approx((1.30, 3.025), abs=0.002)


# Twenty decibels below both are -40: six of them above a floor of -47, and five above one of -45.
@pytest.mark.parametrize(("floor", "is_told"), [(-47.0, True), (-45.0, False)])
def test_attack_and_release_are_blank_where_they_drown(floor, is_told):
    found = edges_of(power_of(*held(1.0, 3.0), (4.0, SILENCE)), 1.0, 3.0, floor=floor)

    assert [found.attack is not None, found.release is not None] == [is_told] * 2


def test_a_short_note_that_breaks_off_behind_its_middle_still_starts_at_its_start():
    line = (*held(1.0, 1.41), *held(1.44, 1.8), (2.8, SILENCE))

    found = edges_of(power_of(*line), 1.0, 1.8)

    assert (found.start, found.end) == pytest.approx((1.0, 1.8), abs=0.004)


# From 2.0 s on it sinks by 20 dB a second, from 2.5 s on by 60: its level is -20 - 60 (t - 2.5).
# The tail lies 0.215 s before t: -10 - 20 (t - 2.215). In silence the end is 10 dB below that, so
# 40 t = 105.7. Beside rests at -27 dB it is half-way between both: 50 t = 126.35.
@pytest.mark.parametrize(("rests", "end"), [(SILENCE, 2.6425), (-27.0, 2.527)])
def test_a_note_that_dies_away_ends_below_the_tail_that_it_has_at_that_end(rests, end):
    line = (*held(1.0, 2.0, -10)[:3], (2.5, -20), (3.6, -86), (4.0, -86))

    found = edges_of(power_of(*line), 1.0, 2.6, rests=rests)

    assert found.end == pytest.approx(end, abs=0.006)


@pytest.mark.parametrize("behind", range(2, 30, 2))
def test_a_clip_may_be_cut_off_at_any_moment_after_the_end(behind):
    line = (*held(1.0, 2.0), (2.0 + behind / 1000, SILENCE))

    found = edges_of(power_of(*line), 1.0, 2.0)

    assert found.end == pytest.approx(2.0, abs=0.004)


@pytest.mark.parametrize(
    ("milliseconds", "hertz", "is_one"), [(25, 1000, False), (50, 1000, True), (5, 30, False)]
)
def test_a_false_start_lasts_forty_milliseconds_and_longer_than_a_look(milliseconds, hertz, is_one):
    line = (*held(0.85 - milliseconds / 1000, 0.85), *held(1.0, 2.5), (3.5, SILENCE))

    found = edges_of(power_of(*line), 1.0, 2.5, hertz=float(hertz))

    assert found.false_start is is_one


@pytest.mark.parametrize(("height", "is_one"), [(-37.0, True), (-39.0, False)])
def test_a_false_start_is_at_most_eighteen_decibels_below_the_note(height, is_one):
    line = (*held(0.8, 0.88, height), *held(1.0, 2.5), (3.5, SILENCE))

    assert edges_of(power_of(*line), 1.0, 2.5).false_start is is_one


def test_a_note_struck_hard_and_held_softly_has_no_false_start():
    line = (*held(1.0, 1.1, -8)[:3], (1.11, -20), (3.0, -20), (3.001, SILENCE), (4.0, SILENCE))

    found = edges_of(power_of(*line), 1.0, 3.0)

    assert found.false_start is False
    assert (found.start, found.head) == pytest.approx((1.0, -20), abs=0.01)


@pytest.mark.parametrize(("clarity", "is_one"), [(0.2, False), (0.59, False), (0.6, True)])
def test_a_breath_is_told_from_a_false_start_by_its_whole_length(clarity, is_one):
    asked = []

    class Watched(Found):
        def clarity(self, begin, end):
            asked.append((begin, end))
            return clarity

    power = power_of(*held(0.6, 0.8), *held(1.0, 2.5), (3.5, SILENCE))

    found = edges_of(power, 1.0, 2.5, look=Watched)

    before = power.envelope(0, 0.9, WINDOW)
    piece = before.times[before.level >= before.level.max() - 8]
    assert asked == [pytest.approx((piece[0], piece[-1]))]
    assert found.false_start is is_one


@pytest.mark.parametrize(("milliseconds", "seconds"), [(40, 0), (80, 0.08)])
def test_what_breaks_off_inside_the_hold_is_added_up_from_fifty_milliseconds_on(
    milliseconds, seconds
):
    breaks = held(2.0, 2.5), held(2.5 + milliseconds / 1000, 3.5)
    line = (*held(1.0, 1.8), *chain_of(breaks), (4.5, SILENCE))

    found = edges_of(power_of(*line), 1.0, 3.5)

    # The window of the envelope reaches some milliseconds into each break, from both sides.
    assert found.breaks == pytest.approx(0.2 + seconds, abs=0.015)


def chain_of(parts):
    return [corner for part in parts for corner in part]


def test_in_no_time_nothing_breaks_off():
    ramp = level.Envelope(np.arange(100) * 0.002, 10 ** (np.linspace(-6, -2, 100)))

    assert edges._breaks(ramp, 0.1, 0.1) == 0


@pytest.mark.parametrize("seconds", [0.3, 0.6, 0.9])
def test_the_decay_is_the_time_in_which_a_sound_falls_by_sixty_decibels(seconds):
    line = (*held(1.0, 3.0)[:3], (3.0 + seconds, -80), (4.5, -80))

    assert edges_of(power_of(*line), 1.0, 3.0).decay == pytest.approx(seconds, rel=0.01)


# Read from 8 dB below the tail down to 6 dB above the floor, and at least 12 dB of it.
@pytest.mark.parametrize(("floor", "is_told"), [(-45.0, False), (-47.0, True)])
def test_a_decay_that_drowns_too_soon_is_not_told(floor, is_told):
    line = (*held(1.0, 3.0)[:3], (3.6, -80), (4.5, -80))

    decay = edges_of(power_of(*line), 1.0, 3.0, floor=floor).decay

    assert decay == (pytest.approx(0.6, rel=0.03) if is_told else None)


# 23 dB at 100 a second, then 40 a second: the 30 dB from -28 on take 0.15 and 0.375 s.
def test_the_decay_is_read_over_thirty_decibels():
    line = (*held(1.0, 3.0)[:3], (3.23, -43), (4.23, -83), (4.5, -83))

    assert edges_of(power_of(*line), 1.0, 3.0).decay == pytest.approx(2 * 0.525, rel=0.02)
