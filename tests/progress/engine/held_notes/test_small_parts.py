"""The small parts of measuring against their definitions, librosa and scipy.

The difference function: P. McLeod, G. Wyvill, "A Smarter Way to Find Pitch", ICMC 2005, section 4,
written out sum by sum. Equal temperament: A4 is MIDI number 69, twelve to the octave (ISO 16 for
440 Hz). The level of a sine that fills the scale, -3.01 dB, is 10 log10 of its mean square, 1/2.
"""

from itertools import chain

import librosa
import numpy as np
import pytest
import scipy.signal
import scipy.stats

from progress.engine.held_notes import cautions, counts, difference, level, signals, spectrum
from progress.engine.held_notes.reading import kind_of
from progress.engine.held_notes.request import Request
from progress.engine.held_notes.transients import Transients

SEED = 20261129
FOUR_SECONDS = Request(tempo=60, hold=2, rest=2)
RATE = 48_000


def sine(hertz, size=0.5, rate=RATE, seconds=1.0):
    return (size * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)).astype("f4")


def loudness(signal):
    """Level of the middle of a signal in dB of the mean square."""
    quarter = len(signal.samples) // 4
    return 10 * np.log10(np.mean(np.square(signal.samples[quarter:-quarter], dtype=float)))


@pytest.mark.parametrize("hertz", [29.1, 233.08, 440.0, 1396.9])
def test_numbers_and_hertz_are_those_of_librosa(hertz):
    assert counts.to_midi(hertz, 440) == pytest.approx(librosa.hz_to_midi(hertz), abs=1e-9)
    assert counts.to_hertz(counts.to_midi(hertz, 442), 442) == pytest.approx(hertz)
    assert counts.to_midi(884, 442) == 81


def test_counts_are_seconds_by_the_tempo_and_half_a_count_may_lack():
    assert [counts.counts(2, tempo) for tempo in (60, 90, None)] == [2, 3, None]
    assert [counts.is_short(played, 8) for played in (7.49, 7.5, None)] == [True, False, False]
    assert not counts.is_short(1, None)


@pytest.mark.parametrize(
    ("starts", "behind"),
    [
        ([1.0, 5.1, 9.0], [0, 100, 0]),
        ([1.0, 9.02, 13.0], [0, 20, 0]),  # the second note is not there
        ([1.0, 1.3, 5.2], [3700, 0, -100]),  # two in one place: one after the other
        ([7.0], [0]),
        ([], []),
    ],
)
def test_a_start_lies_behind_its_place_in_the_grid(starts, behind):
    assert counts.onsets_on_grid(starts, FOUR_SECONDS) == pytest.approx(behind)


@pytest.mark.parametrize("request_", [Request(), Request(tempo=60), Request(tempo=60, hold=2)])
def test_without_all_three_counts_there_is_no_grid(request_):
    assert counts.onsets_on_grid([1.0, 5.0], request_) == [None, None]


@pytest.mark.parametrize(
    ("heard", "expected", "stands_for"),
    [
        ([60.1, 55.0], (), [None, None]),
        ([61.0, 40.0], (60, 58), [60, 58]),  # as many as expected: one after the other
        ([60.1, 55.0], (60, 58, 55), [60, 55]),
        ([60.0, 40.0, 58.0], (60, 58), [60, None, 58]),
        ([60.0, 62.0], (60, 59, 58), [60, 59]),
        ([None, 58.0], (60, 59, 58), [59, 58]),
        ([60.0], (67, 60), [60]),
        ([66.0], (60, 61, 61), [61]),  # missed by five half steps: nearer than leaving both out
    ],
)
def test_a_played_note_stands_for_the_expected_one_that_fits(heard, expected, stands_for):
    assert counts.expected_of(heard, expected) == stands_for


def test_the_difference_function_is_that_of_the_paper():
    frames = np.random.default_rng(SEED).standard_normal((3, 64)).astype("f4")

    found = difference.normalised(frames, 40)

    for row, frame in zip(found, frames.astype(float), strict=True):
        for lag in range(41):
            here, there = frame[: 64 - lag], frame[lag:]
            defined = 2 * np.sum(here * there) / np.sum(here**2 + there**2)
            assert row[lag] == pytest.approx(defined, abs=1e-5)


@pytest.mark.parametrize("top", [-0.4, 0.0, 0.25])
def test_the_top_of_a_parabola_is_found(top):
    before, middle, behind = (np.array([0.9 - 0.3 * (x - top) ** 2]) for x in (-1, 0, 1))

    shift, height = difference.vertex(before, middle, behind)

    assert (shift[0], height[0]) == pytest.approx((top, 0.9))


@pytest.mark.parametrize(
    ("three", "found"), [((1, 1, 1), (0, 1)), ((1, 0, 1), (0, 0)), ((0, 4, 6), (0.5, 4.75))]
)
def test_where_no_top_lies_between_the_neighbours_none_is_made_up(three, found):
    with np.errstate(all="raise"):
        shift, height = difference.vertex(*(np.array([float(value)]) for value in three))

    assert (shift[0], height[0]) == pytest.approx(found)


def test_frames_lie_about_their_times_and_silence_beyond_the_ends():
    signal = signals.Signal(samples=np.arange(1, 11, dtype="f4"), rate=10)

    cut = difference.frames(signal, np.array([0.0, 0.5, 1.0]), 4)

    assert cut.tolist() == [[0, 0, 1, 2], [4, 5, 6, 7], [9, 10, 0, 0]]


def test_decibels_are_of_the_mean_square_and_silence_has_an_end():
    assert signals.decibels(np.array([0.5, 1.0, 0.0])) == pytest.approx([-3.0103, 0, -120])


def test_channels_are_averaged():
    assert signals.mix(np.array([[0.2, 0.4], [-1.0, 0.0]], "f4")) == pytest.approx([0.3, -0.5])
    assert signals.mix(np.array([0.2, 0.4], "f4")) == pytest.approx([0.2, 0.4])


@pytest.mark.parametrize("rate", [16_000, 22_050, 44_100, 48_000])
def test_no_rate_is_raised_and_a_tone_keeps_its_level_and_its_place(rate):
    clip = signals.bands(sine(440, rate=rate), rate)

    assert round(clip.whole.rate) == round(clip.fine.rate) == min(rate, 24_000)
    assert clip.coarse.rate == pytest.approx(12_000, abs=70)
    assert clip.fine.seconds == pytest.approx(1, abs=0.001)
    for form in (clip.whole, clip.fine):
        assert loudness(form) == pytest.approx(20 * np.log10(0.5) - 3.0103, abs=0.001)
        again = sine(440, rate=form.rate)[1000:4000]
        assert form.samples[1000:4000] == pytest.approx(again, abs=2e-3)


@pytest.mark.parametrize(
    ("hertz", "is_in_whole", "is_in_fine"),
    [(12, False, False), (30, True, True), (2900, True, True), (5600, True, False)],
)
def test_each_form_holds_what_its_band_lets_through(hertz, is_in_whole, is_in_fine):
    clip = signals.bands(sine(hertz), RATE)

    full = loudness(signals.Signal(samples=sine(hertz), rate=RATE))
    for form, is_in in ((clip.whole, is_in_whole), (clip.fine, is_in_fine)):
        assert loudness(form) == pytest.approx(full, abs=0.05) if is_in else loudness(form) < -60


@pytest.mark.parametrize("hertz", [500, 2000, 4000])
def test_the_coarse_form_falls_as_scipys_second_order_butterworth_filter(hertz):
    weaker = loudness(signals.bands(sine(hertz), RATE).coarse) - loudness(
        signals.Signal(samples=sine(hertz), rate=RATE)
    )

    numerator, denominator = scipy.signal.butter(2, 2000, analog=True)
    _, response = scipy.signal.freqs(numerator, denominator, [hertz])
    assert weaker == pytest.approx(20 * np.log10(abs(response[0])), abs=0.05)


def looked_at(samples, *, eight_bits=False):
    return cautions.look_at(samples.reshape(-1, 1), RATE, eight_bits=eight_bits)


def test_a_crest_that_was_cut_off_has_clipped_and_a_whole_one_has_not():
    whole = sine(220, 0.9)

    assert not looked_at(whole).clipped
    assert looked_at(np.clip(whole, -0.7, 0.7)).clipped
    assert not looked_at(0.06 * np.clip(whole, -0.7, 0.7)).clipped  # too faint to tell
    both = np.stack([whole, np.clip(whole, -0.7, 0.7)], 1)
    assert cautions.look_at(both, RATE, eight_bits=False).clipped


def crests(runs, near):
    """Hold the height of 0.9 for each of these runs, and come near it for single samples."""
    held = [[0.9] * run + [0.1] for run in runs]
    return np.array([*chain.from_iterable(held), *([0.9 * 0.995, 0.1] * near)], "f4")


# How many flat samples are no longer a crest is a choice of this program, no published figure.
@pytest.mark.parametrize(
    ("runs", "near", "has_clipped"),
    [
        ([6] * 4, 0, True),
        ([6] * 4, 23, True),
        ([6] * 4, 24, False),  # as many in the next nine thousandths, as a crest has
        ([5] * 4 + [2, 2], 0, True),
        ([5] * 4 + [2, 1], 0, False),  # 23 samples
        ([5] * 3 + [2] * 5, 0, False),  # nine times three in a row
    ],
)
def test_enough_samples_must_lie_flat_and_more_than_in_a_crest(runs, near, has_clipped):
    assert looked_at(crests(runs, near)).clipped is has_clipped


@pytest.mark.parametrize(("samples", "is_gap"), [(191, False), (192, True)])
def test_four_milliseconds_of_nothing_are_a_gap(samples, is_gap):
    played = sine(220) + np.float32(0.6)
    played[4800 : 4800 + samples] = 0

    assert looked_at(played).gaps == (((0.1, (4800 + samples) / RATE),) if is_gap else ())


@pytest.mark.parametrize(
    ("gap", "is_inside"),
    [((1.04, 1.5), False), ((1.06, 1.5), True), ((1.5, 1.94), True), ((1.5, 1.96), False)],
)
def test_a_gap_is_inside_a_note_and_not_at_its_edges(gap, is_inside):
    assert cautions.has_gap((gap,), 1.0, 2.0) is is_inside


def a_ramp():
    """Rise by 1 dB every 2 ms from -60 dB to -20 and fall back."""
    heights = np.concatenate((np.arange(-60, -20), np.arange(-20, -61, -1))).astype(float)
    return level.Envelope(np.arange(len(heights)) * 0.002, 10 ** (heights / 10))


def test_a_ramp_is_crossed_where_it_has_the_level():
    ramp = a_ramp()

    assert ramp.first_rise(-30.5, 0, 0.16) == pytest.approx(0.059)
    assert ramp.last_rise(-30.5, 0.08, 0) == pytest.approx(0.059)
    assert ramp.first_fall(-30.5, 0.08, 0.16) == pytest.approx(0.101)
    assert ramp.last_fall(-30.5, 0.16, 0) == pytest.approx(0.101)
    assert ramp.median(0.078, 0.084) == -21
    for way in (ramp.first_rise, ramp.last_fall):
        assert way(-10, 0, 0.16) is None
    assert ramp.first_fall(-70, 0, 0.16) is None
    assert ramp.last_rise(-70, 0.16, 0) is None
    assert np.isnan(ramp.median(1, 2))


def test_where_a_level_is_passed_at_an_end_it_is_at_that_end():
    ramp = a_ramp()

    assert ramp.first_rise(-60, 0, 0.16) == 0
    assert ramp.last_fall(-61, 1, 0) == pytest.approx(ramp.times[-1])


@pytest.mark.parametrize("window", [0.012, 0.025, 0.06])
@pytest.mark.parametrize("at", [0.0, 0.5])
def test_an_envelope_lies_about_what_sounds_from_the_first_instant_on(window, at):
    click = np.zeros(RATE, "f4")
    click[int(at * RATE) :][:48] = 1

    envelope = level.Power(signals.Signal(samples=click, rate=RATE)).envelope(0, 1, window)

    middle = at + 0.0005
    assert len(envelope.times) == 500
    assert envelope.times[np.argmax(envelope.power)] == pytest.approx(middle, abs=0.0016)
    if at:  # at the beginning the half before it is cut off
        weighed = np.sum(envelope.times * envelope.power) / np.sum(envelope.power)
        assert weighed == pytest.approx(middle, abs=0.0002)


def test_the_level_of_a_steady_tone_is_that_of_its_mean_square():
    power = level.Power(signals.Signal(samples=sine(1000, 1.0), rate=RATE))

    assert power.seconds == pytest.approx(1)
    assert power.steady(np.array([0.0, 0.5, 1.0])) == pytest.approx([-3.0103] * 3, abs=0.01)
    envelope = power.envelope(0.2, 0.8, 0.06)
    assert envelope.level == pytest.approx(-3.0103, abs=0.01)
    assert envelope.times[[0, -1]] == pytest.approx([0.2, 0.8], abs=0.0025)


def test_a_window_at_an_end_holds_what_there_is_and_beyond_it_is_silence():
    clicks = np.zeros(RATE, "f4")
    clicks[:48] = clicks[-48:] = 1  # a millisecond each

    levels = level.Power(signals.Signal(samples=clicks, rate=RATE)).steady(
        np.array([-1.0, 0.0, 0.5, 1.0, 2.0])
    )

    # Half of the forty milliseconds lie in the clip, so a click is a twentieth of them.
    assert levels == pytest.approx([-120, -13.0103, -120, -13.0103, -120])


def test_a_millisecond_that_ends_between_two_samples_has_its_share_of_them():
    power = level.Power(signals.Signal(samples=np.ones(22_050, "f4"), rate=22_050))

    assert power.blocks == pytest.approx(1)


def partials(*sizes, hertz=400.0, rate=24_000):
    whole = sum(sine(hertz * number, size, rate=rate) for number, size in enumerate(sizes, start=1))
    return signals.Signal(samples=whole, rate=rate)


def test_richness_is_the_power_above_a_thousand_hertz_over_that_below():
    found = spectrum.richness(partials(0.3, 0.1, 0.2, 0.1), (0.1, 0.9), 400)

    assert found == pytest.approx(10 * np.log10((0.2**2 + 0.1**2) / (0.3**2 + 0.1**2)), abs=0.02)
    assert spectrum.richness(partials(0.3, 0.1, rate=9_000), (0.1, 0.9), 400) is None
    assert spectrum.richness(partials(0.3, 0.1, 0.2), (0.1, 0.2), 400) is None


def test_richness_is_read_in_the_steady_part_alone():
    bright, dark = partials(0.1, 0.1, 0.3).samples, partials(0.3, 0.1, 0.05).samples
    played = np.concatenate((bright, dark, bright))

    found = spectrum.richness(signals.Signal(samples=played, rate=24_000), (1.0, 2.0), 400)

    assert found == pytest.approx(10 * np.log10(0.05**2 / (0.3**2 + 0.1**2)), abs=0.05)


def test_brightness_is_compared_within_one_pitch_and_one_dynamic():
    rich = [3.0, 4.0, 6.0, 7.5]
    same = [(60, -20.0, value) for value in rich]

    higher = [(64, -20.0, 10 + value) for value in rich]

    found = spectrum.consistency([*same, *higher, (60, -35.0, 30.0), (62, -20.0, 99.0)])

    scipys = scipy.stats.median_abs_deviation(np.array(rich) - np.median(rich), scale="normal")
    assert found == pytest.approx(scipys, rel=1e-3)
    assert spectrum.consistency([(60, -20.0, 3.0), (62, -20.0, 5.0)]) is None


# Twelve and fifteen cents are choices of this program: docs/held-notes.md.
@pytest.mark.parametrize(
    ("start", "wrong_partial", "scoop"),
    [(-12, False, True), (-11.9, False, False), (-30, True, False), (None, False, False)],
)
def test_a_scoop_is_twelve_cents_from_below_on_the_right_partial(start, wrong_partial, scoop):
    assert Transients(start=start, end=None, wrong_partial=wrong_partial).scoop is scoop


@pytest.mark.parametrize(("end", "sag"), [(-15, True), (-14.9, False), (20, False), (None, False)])
def test_a_sag_is_fifteen_cents_down(end, sag):
    assert Transients(start=None, end=end, wrong_partial=False).sag is sag


# RIFF and WAVE: the Multimedia Programming Interface of 1991; FLAC: RFC 9639; Ogg: RFC 3533; an
# MPEG frame begins with eleven ones: ISO/IEC 11172-3; an ID3 tag with its name. All from memory.
@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"RIFF\x00\x01\x02\x03WAVE", "WAV"),
        (b"RIFF\x00\x01\x02\x03AVI ", None),
        (b"RIFX\x00\x01\x02\x03WAVE", None),
        (b"fLaC\x00", "FLAC"),
        (b"OggS\x00", "Ogg"),
        (b"ID3\x03", "MP3"),
        (b"\xff\xfb\x90", "MP3"),
        (b"\xff\xe0", "MP3"),
        (b"\xff\xdf", None),
        (b"\xfe\xfb", None),
        (b"\xff", None),
        (b"", None),
    ],
)
def test_the_first_bytes_tell_the_format(head, kind):
    assert kind_of(head) == kind
