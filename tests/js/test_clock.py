"""The clicks on the audio clock: their exact times, how far ahead they are handed over, and stalls.

A stand-in for the browser's AudioContext notes when each click is asked for and for which time, so
ten minutes pass in a moment. Its clock moves in blocks of 128 frames at 48 kHz, as the Web Audio
standard says. Expected times come from the count-through of `counting.py`.
"""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from .counting import counted
from .session_maker import a_session

STAND_IN = (Path(__file__).parent / "stand_in_audio.js").read_text()


@pytest.fixture
def simulate(ask: Callable[..., Any]) -> Callable[..., Any]:
    """Run a piece of a session under the stand-in audio; the script gets `it` and the session."""

    def simulated(script: str, **kind: Any) -> Any:
        body = (
            f"const [session] = values; {STAND_IN}\nconst it = standIn(session, PARTS);\n{script}"
        )
        return ask(body.replace("PARTS", "{ position, click, clock }"), a_session(**kind))

    return simulated


def test_ten_minutes_of_clicks_are_exact_to_a_thousandth_of_a_second(simulate):
    # 38 notes of hold 8 and rest 8 at 60: 38 x 8 + 37 x 8 = 600 seconds.
    notes = [(60 + index % 12, "down") for index in range(38)]
    rows = counted(notes=38, hold=8, rest=8, tempo=60, count_in=4)

    heard = simulate("await it.start(); it.pass(606); return it.heard;", notes=notes)

    first = heard[0]["at"]
    expected = [float(row.begins) + 4 for row in rows] + [604.0]
    assert [click["at"] - first for click in heard] == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize("tempo", [20, 60, 240])
def test_every_click_is_handed_over_a_whole_cycle_ahead(simulate, tempo):
    notes = [(60 + index, "down") for index in range(8)]
    cycle = 16 * 60 / tempo

    heard = simulate("await it.start(); it.pass(600); return it.heard;", notes=notes, tempo=tempo)

    began = heard[0]["asked"]
    later = [click for click in heard if click["at"] > began + cycle + 3]
    assert len(later) > 80
    assert min(click["at"] - click["asked"] for click in later) >= cycle


def test_sound_that_was_made_ready_stands_still_until_the_tap(simulate):
    before, ready, after, heard, interruptions = simulate(
        """
        const before = it.state();
        it.clock.openEarly();
        // A page may be let sound without a tap, where the one before it was tapped.
        const ready = it.state();
        await it.start();
        it.pass(2);
        return [before, ready, it.state(), it.heard.length, it.interruptions()];
        """
    )

    assert (before, ready, after) == ("none", "suspended", "running")
    assert heard > 0
    assert interruptions == 0


def test_sound_that_runs_for_a_session_is_not_made_still(simulate):
    state = simulate(
        "await it.start(); it.pass(1); it.clock.openEarly(); it.pass(1); return it.state();"
    )

    assert state == "running"


def test_the_attack_is_loudest_and_the_hold_quietest(simulate):
    heard = simulate("await it.start(); it.pass(30); return it.heard;")

    attack, hold, release, rest = (heard[at]["strength"] for at in (4, 5, 12, 13))
    assert attack > release > rest > hold > 0


def test_pause_takes_back_the_clicks_that_have_not_sounded_and_keeps_the_place(simulate):
    kept, heard = simulate("""await it.start(); it.pass(7);
        const kept = it.clock.stop(); it.pass(20); return [kept, it.heard];""")

    assert kept["seconds"] == pytest.approx(7 - 4 - 0.15, abs=0.01)
    assert all(click["at"] <= heard[0]["at"] + 7 or click["stopped"] for click in heard)
    assert sum(not click["stopped"] for click in heard) == 7


def test_a_stop_at_the_holds_end_lets_the_release_click_sound_and_nothing_after(simulate):
    reading, heard = simulate("""await it.start(); it.pass(7);
        it.clock.stopAt(8); it.pass(30); return [it.clock.read(), it.heard];""")

    sounded = [click for click in heard if not click["stopped"]]
    assert (reading["seconds"], reading["stopped"]) == (8, True)
    # 37 seconds have passed; the count-in and the time to wake the sound card came first.
    assert reading["past"] == pytest.approx(37 - 4 - 0.15 - 8, abs=0.01)
    assert sounded[-1]["at"] - heard[0]["at"] == pytest.approx(12, abs=1e-6)


def test_without_leave_to_sound_the_session_runs_and_says_so(simulate):
    seconds, mute, heard = simulate("""it.allow(false); await it.start(); it.pass(10);
        return [it.clock.read().seconds, it.clock.isMute(), it.heard];""")

    assert seconds == pytest.approx(10 - 4 - 0.15, abs=0.01)
    assert (mute, heard) == (True, [])


def test_a_tap_turns_the_click_on_without_losing_the_place(simulate):
    before, after, mute, heard = simulate("""it.allow(false); await it.start(); it.pass(10);
        const before = it.clock.read().seconds;
        it.allow(true); await it.clock.wake(); it.pass(1);
        const after = it.clock.read().seconds; it.pass(1);
        return [before, after, it.clock.isMute(), it.heard];""")

    assert after - before == pytest.approx(1, abs=0.01)
    assert mute is False
    # The next click after the tap is the count at 6 or 7 seconds; all stand whole seconds apart.
    steps = [late["at"] - early["at"] for early, late in pairwise(heard)]
    assert steps == pytest.approx([1.0] * len(steps), abs=1e-9)


def test_a_stalled_audio_clock_does_not_hold_up_the_session(simulate):
    places, mute, back, heard = simulate("""await it.start(); it.pass(8);
        it.stall(true); const places = [];
        for (let at = 0; at < 10; at += 1) { it.pass(1); places.push(it.clock.read().seconds); }
        const mute = it.clock.isMute();
        it.stall(false); it.pass(2);
        return [places, mute, it.clock.read().seconds, it.heard];""")

    assert places == pytest.approx([4.85 - 1 + at + 1 for at in range(10)], abs=0.02)
    assert mute is True
    assert back == pytest.approx(15.85, abs=0.02)
    late = [click["begun"] for click in heard if not click["stopped"]]
    assert all(b - a > 0.4 for a, b in pairwise(late))


def test_a_click_turned_off_is_silent_and_the_session_goes_on(simulate):
    gain, mute, seconds = simulate("""it.clock.choose("off", "loud"); await it.start(); it.pass(10);
        return [it.volume(), it.clock.isMute(), it.clock.read().seconds];""")

    assert (gain, mute) == (0, False)
    assert seconds == pytest.approx(5.85, abs=0.01)


def test_another_sound_in_the_middle_of_a_cycle_loses_and_doubles_no_click(simulate):
    heard = simulate("""it.clock.choose("off", "soft"); await it.start(); it.pass(9);
        it.clock.choose("knock", "loud"); it.pass(20); return it.heard;""")

    sounded = sorted(click["at"] for click in heard if not click["stopped"])
    steps = [late - early for early, late in pairwise(sounded)]
    assert steps == pytest.approx([1.0] * len(steps), abs=1e-9)
    assert len(steps) > 24


def test_sound_that_a_call_takes_away_is_told_once_and_time_goes_on(simulate):
    told, before, after, mute = simulate("""await it.start(); it.pass(7);
        const before = it.clock.read().seconds; it.interrupt(); it.pass(3);
        return [it.interruptions(), before, it.clock.read().seconds, it.clock.isMute()];""")

    assert told == 1
    assert after - before == pytest.approx(3, abs=0.02)
    assert mute is True


def test_sound_that_never_came_is_no_call(simulate):
    told = simulate("""it.allow(false); await it.start(); it.pass(5);
        return it.interruptions();""")

    assert told == 0


def test_a_pause_while_the_sound_still_wakes_starts_nothing(simulate):
    reading = simulate("""it.allow(false); const started = it.start(); it.clock.stop();
        await started; it.pass(5); return it.clock.read();""")

    assert reading is None
