"""The recording page's own arithmetic: halving a rate, writing a WAV, what is due when."""

import base64
import io
from typing import Any

import numpy as np
import pytest
import soundfile
from playwright.sync_api import Page

RATE = 48_000
HALVE = """async ([hertz, rate]) => {
    const { halved } = await import("/static/js/recording/sound.js");
    const turn = (2 * Math.PI * hertz) / rate;
    const tone = Float32Array.from({ length: rate }, (_, at) => Math.sin(turn * at));
    const made = halved(tone, rate);
    return { rate: made.rate, samples: [...made.samples] };
}"""
WRITE = """async (samples) => {
    const { wav } = await import("/static/js/recording/sound.js");
    const bytes = new Uint8Array(await wav(Float32Array.from(samples), 24000).arrayBuffer());
    return btoa(String.fromCharCode(...bytes));
}"""
COURSE = """async ([course, seconds]) => {
    const { placeAt, notesBy } = await import("/static/js/recording/course.js");
    const told = (at) => [...Object.values(placeAt(course, at)), notesBy(course, at)];
    return seconds.map(told);
}"""


@pytest.fixture
def asked(page: Page, site) -> Any:
    site.pages["/empty"] = '<!doctype html><html lang="en"><title>empty</title></html>'
    page.goto(f"{site.address}/empty")
    return page.evaluate


def level(samples: list[float]) -> float:
    """Decibels under a sine that fills the scale, away from either end."""
    middle = np.array(samples[1000:-1000])
    return float(10 * np.log10(2 * np.mean(middle**2) + 1e-12))


def test_what_the_new_rate_can_hold_keeps_its_level(asked):
    for hertz in (30, 440, 5_000, 9_000):
        made = asked(HALVE, [hertz, RATE])
        assert made["rate"] == RATE / 2
        assert abs(level(made["samples"])) < 0.1, hertz


def test_what_the_new_rate_cannot_hold_is_gone_and_does_not_fold_over(asked):
    for hertz in (13_000, 15_000, 23_000):
        assert level(asked(HALVE, [hertz, RATE])["samples"]) < -60, hertz


@pytest.mark.parametrize(
    ("given", "kept"),
    [(16_000, 16_000), (24_000, 24_000), (32_000, 16_000), (44_100, 22_050), (96_000, 24_000)],
)
def test_every_device_ends_at_half_its_rate_or_near_24_thousand(asked, given, kept):
    assert asked(HALVE, [440, given])["rate"] == kept


def test_the_file_holds_the_samples_as_soundfile_reads_them(asked):
    samples = [0.0, 0.25, -0.25, 1.0, -1.0, 2.0]

    read, rate = soundfile.read(io.BytesIO(base64.b64decode(asked(WRITE, samples))))

    assert rate == 24_000
    assert read == pytest.approx([0.0, 0.25, -0.25, 1.0, -1.0, 1.0], abs=1e-4)


def test_a_second_of_silence_then_the_count_in_then_holds_and_rests(asked):
    course = {
        "silence": 1, "countIn": 4, "beat": 1, "hold": 8, "rest": 8, "notes": ["C", "B"], "most": 90
    }  # fmt: skip
    places = asked(COURSE, [course, [0.5, 1.5, 4.5, 5.5, 12.5, 13.5, 21.5, 28.5, 31.5]])

    assert places == [
        ["silence", 0, 1, 0],
        ["count-in", 0, 1, 0],
        ["count-in", 0, 4, 0],
        ["hold", 0, 1, 0],
        ["hold", 0, 8, 1],
        ["rest", 0, 1, 1],
        ["hold", 1, 1, 1],
        ["hold", 1, 8, 2],
        ["over", 1, 1, 2],
    ]
