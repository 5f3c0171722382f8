"""The click as it sounds: rendered to samples, and live while the page is too busy to move.

The grid is worked out here from the sample rate and the tempo alone: beat n of a metronome mark
lies n x 60 / tempo seconds after the first.
"""

from fractions import Fraction
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from .playing import press

RATE = 48_000
# The whole clock hands its clicks to an audio context that renders faster than time.
RENDER = """const [session, sound, rate, seconds] = values;
    const offline = new OfflineAudioContext(1, rate * seconds, rate);
    const starts = [];
    const seen = { state: "running", createBufferSource: () => {
        const source = offline.createBufferSource();
        const start = source.start.bind(source);
        source.start = (when) => { starts.push(when); start(when); };
        return source;
    } };
    const context = new Proxy(offline, { set: () => true, get: (target, name) => {
        if (name in seen) return seen[name];
        const value = Reflect.get(target, name);
        return typeof value === "function" ? value.bind(target) : value;
    } });
    const it = clock.createClock({ ahead: 1e6, makeContext: () => context, monotonic: () => 0,
        interrupted: () => {}, click });
    it.choose(sound, "loud");
    await it.start({ from: 0, lead: session.count_in }, position.clicksFrom(session));
    const samples = (await offline.startRendering()).getChannelData(0);
    const quiet = rate / 20;
    const onsets = [];
    for (let at = 0, last = -quiet; at < samples.length; at += 1) {
        if (Math.abs(samples[at]) < 1e-4) continue;
        if (at - last >= quiet) onsets.push(at);
        last = at;
    }
    const crossings = (from) => {
        let count = 0;
        for (let at = from + 1; at < from + rate / 200; at += 1) {
            if (samples[at - 1] < 0 !== samples[at] < 0) count += 1;
        }
        return count;
    };
    const loudest = (from) => Math.max(...samples.slice(from, from + 4000).map(Math.abs));
    return { starts, onsets, crossings: onsets.map(crossings), loudest: onsets.map(loudest) };"""
SPY = """window.clicks = [];
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (when) {
        window.clicks.push({ when, asked: this.context.currentTime });
        return start.call(this, when);
    };"""
BLOCK = """() => { const until = performance.now() + 600; while (performance.now() < until) {} }"""


def a_row(hold: int, rest: int, tempo: int) -> dict[str, Any]:
    """The least of a session that has clicks: two notes."""
    count = 60 / tempo
    return {
        "tempo": tempo,
        "count_in": 4,
        "steps": [
            {
                "index": at, "start": at * (hold + rest) * count, "hold": hold * count,
                "rest": rest * count,
            }
            for at in range(2)
        ],
    }  # fmt: skip


@pytest.mark.battery
@pytest.mark.parametrize(("tempo", "sound"), [(60, "tick"), (72, "knock"), (107, "brush")])
def test_sixty_four_rendered_beats_are_at_most_one_sample_off_the_grid(ask, tempo, sound, figures):
    found = ask(RENDER, a_row(20, 20, tempo), sound, RATE, 70)

    onsets = found["onsets"][:64]
    first = Fraction(found["starts"][0]) * RATE
    grid = [first + Fraction(60 * RATE * beat, tempo) for beat in range(64)]
    off = [float(abs(onset - exact)) for onset, exact in zip(onsets, grid, strict=True)]
    figures.append(f"64 beats rendered at {tempo}: at most {max(off):.3f} samples off the grid")
    assert len(onsets) == 64
    assert max(off) <= 1


@pytest.mark.parametrize("sound", ["tick", "knock", "brush"])
def test_the_attack_is_loudest_and_the_rest_has_a_darker_colour(ask, sound):
    # Four counts in, a hold of four, a rest of four: a darker noise changes its sign less often.
    found = ask(RENDER, a_row(4, 4, 60), sound, RATE, 20)

    loud, colour = found["loudest"], found["crossings"]
    assert loud[4] > 1.5 * max(loud[5:8])
    assert max(colour[8:12]) < min(colour[4:8])


@pytest.mark.battery
def test_a_page_blocked_for_six_tenths_of_a_second_makes_no_click_late(
    open_session, page: Page, figures
):
    page.add_init_script(SPY)
    open_session(hold=4, rest=2, tempo=90)

    press(page, "Start")
    for _ in range(4):
        page.evaluate(BLOCK)
    expect(page.locator("[data-phase=rest]")).to_be_attached()
    page.evaluate(BLOCK)
    expect(page.locator("[data-place]")).to_have_text("2 of 27")

    clicks = page.evaluate("() => window.clicks")
    figures.append(in_words("live at 90, blocked 5 x 600 ms", clicks, 90))
    assert len(clicks) > 12
    assert sum(click["when"] < click["asked"] for click in clicks) == 0
    assert off_the_grid(clicks, 90) <= 0.001


@pytest.mark.battery
def test_the_player_does_not_drift_from_the_audio_clock(
    open_session, page: Page, is_battery, figures
):
    # Ten minutes in the battery, a few seconds otherwise: 38 notes of hold 8 and rest 8 at 60.
    cycles = 37 if is_battery else 1
    page.add_init_script(SPY)
    slow, quick = {"hold": 8, "rest": 8, "tempo": 60}, {"hold": 4, "rest": 4, "tempo": 240}
    kind = slow if is_battery else quick
    open_session(notes=[(60 + at % 12, "down") for at in range(cycles + 1)], **kind)

    press(page, "Start")
    expect(page.locator("[data-word]")).to_have_text("Done.", timeout=700_000)

    clicks = page.evaluate("() => window.clicks")
    figures.append(in_words(f"live, {cycles} cycles", clicks, kind["tempo"]))
    assert len(clicks) == 4 + cycles * (kind["hold"] + kind["rest"]) + kind["hold"] + 1
    assert off_the_grid(clicks, kind["tempo"]) < 0.010
    assert all(click["asked"] <= click["when"] for click in clicks)


def test_a_sound_can_be_tried_before_the_start(open_session, page: Page):
    page.add_init_script(SPY)
    open_session()

    page.get_by_text("Settings").click()
    page.get_by_label("Knock").check()
    expect(page.get_by_role("button", name="Start")).to_be_visible()
    page.evaluate("() => new Promise((done) => { setTimeout(done, 100); })")
    page.get_by_label("Off").check()

    # One click to try the knock by, none for the click that is off, and nothing has begun.
    assert page.evaluate("() => window.clicks.length") == 1
    expect(page.locator("[data-view=ready]")).to_be_attached()


def off_the_grid(clicks: list[dict[str, float]], tempo: int) -> float:
    """The furthest that a click lies from its beat, in seconds."""
    first = clicks[0]["when"]
    return max(abs(click["when"] - first - at * 60 / tempo) for at, click in enumerate(clicks))


def in_words(what: str, clicks: list[dict[str, float]], tempo: int) -> str:
    """Say the figures of a run."""
    late = sum(click["when"] < click["asked"] for click in clicks)
    off = off_the_grid(clicks, tempo) * 1000
    return f"{what}: {len(clicks)} clicks, {late} late, at most {off:.6f} ms off the grid"
