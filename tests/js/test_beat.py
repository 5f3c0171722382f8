"""The beat for the eye never flashes more than three times in a second, at any tempo.

WCAG 2.2, success criterion 2.3.1: a flash is a pair of opposing changes, and there are no more than
three of them in any one second.
"""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from .playing import press, word
from .session_maker import a_session

DRIVEN = (Path(__file__).parent / "driven_session.js").read_text()
# Sixty pictures a second, each a little early or late, through a hold, a rest and a hold.
SWEEP = """const [sessions] = values;
    return sessions.map((session) => {
        const changes = [];
        let was = "off", side = "none", moved = 0, state = 7;
        for (let frame = 0; frame < 60 * 12; frame += 1) {
            state = (state * 48271) % 2147483647;
            const late = (state / 2147483647 - 0.5) * 0.8;
            const seconds = -4 * 60 / session.tempo + (frame + late) / 60;
            const now = beat.beatAt(position.positionAt(session, seconds), session.tempo);
            if ((now.lit === "on") !== (was === "on")) changes.push([seconds, now.lit]);
            if (now.side !== side) moved += 1;
            was = now.lit; side = now.side;
        }
        return { changes, moved };
    });"""


def most_in_a_second(changes: list[list[Any]]) -> int:
    """Count the whole flashes, to light and back, in the fullest second."""
    lit = [at for at, state in changes if state == "on"]
    dark = [at for at, state in changes if state != "on"]
    return max((sum(on >= start and off <= start + 1 for on, off in zip(lit, dark, strict=False))
                for start in lit), default=0)  # fmt: skip


@pytest.mark.battery
def test_at_no_tempo_are_there_more_than_three_flashes_in_a_second(ask, figures):
    tempi = list(range(20, 241))

    found = ask(SWEEP, [a_session(tempo=tempo) for tempo in tempi])

    flashes = {t: most_in_a_second(one["changes"]) for t, one in zip(tempi, found, strict=True)}
    figures.append(
        f"flashes, tempo 20 to 240, {len(tempi)} tempi: at most {max(flashes.values())} in a second"
    )
    assert max(flashes.values()) == 3
    # Up to 180 each count lights up once; above, a mark moves and nothing flashes.
    assert all(flashes[tempo] > 0 for tempo in range(60, 181))
    assert all(flashes[tempo] == 0 for tempo in range(181, 241))
    assert all((one["moved"] > 0) == (t > 180) for t, one in zip(tempi, found, strict=True))


@pytest.mark.parametrize("tempo", [60, 180, 240])
def test_the_page_itself_changes_no_oftener_than_that(open_session, tempo):
    page = open_session()

    shown = page.evaluate(
        f"""async ([session]) => {{ {DRIVEN}
            const world = new World();
            localStorage.setItem("filar.settings", JSON.stringify({{ flash: true }}));
            await world.load(session);
            await world.tap("start");
            world.pass(12);
            return world.shown;
        }}""",
        [a_session(tempo=tempo)],
    )

    changes = [[one["at"], one["lit"]] for one in shown]
    told = [now for was, now in zip([[0, ""], *changes], changes, strict=False) if was[1] != now[1]]
    sides = {one["side"] for one in shown}
    assert most_in_a_second([one for one in told if one[1] in {"on", "off"}]) <= 3
    assert ({"left", "right"} <= sides) == (tempo > 180)


def test_the_beat_is_dark_and_still_unless_it_is_asked_for(open_session, page: Page):
    open_session(hold=4, rest=4, tempo=240)

    press(page, "Start")
    word(page, "Hold")

    expect(page.locator("[data-player]")).to_have_attribute("data-lit", "still")
    expect(page.locator("[data-player]")).to_have_attribute("data-side", "none")


def test_a_phone_that_can_buzz_buzzes_on_each_count(open_session, page: Page):
    page.add_init_script("""window.buzzed = [];
        Object.defineProperty(Navigator.prototype, "vibrate", {
            configurable: true, value: (length) => { window.buzzed.push(length); return true; } });
        localStorage.setItem("filar.settings", JSON.stringify({ buzz: true }));""")
    open_session(notes=[(67, "down")], hold=3, rest=4, tempo=240, top_is_open=False)

    press(page, "Start")
    word(page, "Done.")

    # Four counts in, then the attack, felt longer, and two more counts.
    assert page.evaluate("() => window.buzzed") == [15, 15, 15, 15, 60, 15, 15]


def test_a_phone_without_a_motor_is_not_offered_to_buzz(open_session, page: Page):
    page.add_init_script("delete Navigator.prototype.vibrate;")
    open_session()

    page.get_by_text("Settings").click()

    expect(page.get_by_label("Show the beat")).to_be_visible()
    expect(page.get_by_label("Buzz the beat")).to_be_hidden()
