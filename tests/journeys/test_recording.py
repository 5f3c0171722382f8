"""From the microphone to the teacher's page, in a Chromium that hears a file instead of a room.

What the page sends is held against the very file: the figures of the two may differ by the page's
own doing alone. Chromium's flags for a made-up microphone are its own (media/base/media_switches).
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from axe_playwright_python.sync_playwright import Axe
from django_scopes import scopes_disabled
from playwright.sync_api import Browser, Page, Playwright, expect

from progress.engine.held_notes import apart
from progress.engine.held_notes.limits import UPLOAD
from progress.models import Recording
from progress.services import measuring, recording_files
from tests import browser as chromium
from tests import makers
from tests.progress import recording_makers as sounds

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.browser]

RATE = 48_000
LEAD, HOLD, REST, NOTES = 3.0, 2.0, 2.0, 2
# The file is longer than the test listens, so that it does not begin anew.
BEHIND = 20
CENTS, DECIBELS, SECONDS = 0.5, 0.3, 0.020
BY_UNIT = {
    CENTS: ("cents", "pitch_spread", "pitch_drift", "start_dev", "end_dev"),
    DECIBELS: ("level_drift", "level_spread"),
}


def played() -> Any:
    """Two notes of a B flat, 17 cents high and rising by 8, the second fading by 6 dB."""
    chance = np.random.default_rng(48)
    at = np.arange(int((LEAD + NOTES * (HOLD + REST) + BEHIND) * RATE)) / RATE
    within = (at - LEAD) % (HOLD + REST)
    cents = 17 + 8 * within / HOLD + 2 * np.sin(2 * np.pi * 1.7 * at)
    turns = np.cumsum(233.082 * 2 ** (cents / 1200)) / RATE
    tone = sum(np.sin(2 * np.pi * turns * k) / k for k in range(1, 11)) * 0.1
    shape = np.clip(within / 0.06, 0, 1) * np.clip((HOLD - within) / 0.09, 0, 1)
    sounding = (at >= LEAD) & (at < LEAD + NOTES * (HOLD + REST))
    fading = np.where(at >= LEAD + HOLD + REST, 10 ** (-6 * within / HOLD / 20), 1)
    return tone * shape * sounding * fading + chance.standard_normal(len(at)) * 1e-4


@pytest.fixture
def hears(playwright: Playwright, tmp_path: Path) -> Iterator[tuple[Browser, Path]]:
    """A browser of its own, whose microphone is a file."""
    path = tmp_path / "played.wav"
    soundfile.write(path, played(), RATE, subtype="PCM_16")
    browser = playwright.chromium.launch(
        executable_path=chromium.found(playwright.chromium.executable_path),
        args=[
            *chromium.arguments(),
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={path}%noloop",
            "--autoplay-policy=no-user-gesture-required",
        ],
    )
    yield browser, path
    browser.close()


@pytest.fixture
def nor():
    sounds.no_files()
    teacher = makers.a_teacher()
    student = makers.a_student(makers.studio_of(teacher))
    plan = makers.a_plan(student, hold=2, rest=2)
    makers.a_block(student, plan=plan)
    sounds.leave(student)
    return student, teacher


def page_of(browser: Browser, live_server, student, troubles) -> Page:
    context = browser.new_context(**chromium.PHONE, service_workers="block")
    context.set_default_timeout(chromium.PATIENCE_MILLISECONDS)
    troubles.watch(context)
    cookies = makers.a_phone(makers.a_grant(student)).cookies
    context.add_cookies(
        [{"name": key, "value": one.value, "url": live_server.url} for key, one in cookies.items()]
    )
    page = context.new_page()
    page.goto(f"{live_server.url}/practice/{student.public_id}/recording")
    return page


def record(page: Page, seconds: float) -> None:
    page.get_by_role("button", name="Record").click()
    expect(page.get_by_role("button", name="Stop")).to_be_visible()
    expect(page.locator("[data-seconds]")).to_have_text(str(int(seconds)), timeout=40_000)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("heading", name="Listen")).to_be_visible()


def differences(sent: dict[str, Any], file: dict[str, Any]) -> dict[str, float]:
    """Give the farthest that the figures of the two lie apart, by what they are."""
    found = {name: 0.0 for names in BY_UNIT.values() for name in names} | {"hold": 0.0}
    found |= {"attack": 0.0, "release": 0.0, "place": 0.0}
    first = sent["notes"][0]["start_s"] - file["notes"][0]["start_s"]
    for one, other in zip(sent["notes"], file["notes"], strict=True):
        now = {name: one[name] - other[name] for names in BY_UNIT.values() for name in names}
        lengths = [note["end_s"] - note["start_s"] for note in (one, other)]
        now["hold"] = lengths[0] - lengths[1]
        now["place"] = one["start_s"] - other["start_s"] - first
        now["attack"] = (one["attack_ms"] - other["attack_ms"]) / 1000
        now["release"] = (one["release_ms"] - other["release_ms"]) / 1000
        found = {name: max(found[name], abs(now[name])) for name in found}
    return found


def test_what_the_page_sends_measures_like_the_file(hears, nor, live_server, troubles, figures):
    browser, path = hears
    student, teacher = nor
    page = page_of(browser, live_server, student, troubles)
    device = page.evaluate("new AudioContext().sampleRate")
    record(page, LEAD + NOTES * (HOLD + REST) + 1)
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("Sent. Your teachers can hear it until")).to_be_visible()

    with scopes_disabled():
        row = Recording.objects.get()
    desk = browser.new_context(**chromium.LAPTOP)
    troubles.watch(desk)
    laptop = desk.new_page()
    for key, one in makers.signed_in(teacher).cookies.items():
        desk.add_cookies([{"name": key, "value": one.value, "url": live_server.url}])
    laptop.goto(f"{live_server.url}/recordings/{row.public_id}")
    expect(
        laptop.get_by_text("within 5 cents").or_(laptop.get_by_text("Show it")).first
    ).to_be_visible()
    laptop.goto(f"{live_server.url}/recordings/{row.public_id}")
    expect(laptop.get_by_role("table")).to_be_visible()

    with scopes_disabled():
        row = Recording.objects.get()
        request = measuring.request_of(row)
    assert row.processing == dict.fromkeys(sounds.OFF, False)
    assert soundfile.info(recording_files.path_of(row.file, ".flac")).samplerate == device / 2
    assert row.figures is not None
    far = differences(row.figures, apart.measure_file(path, request, UPLOAD))
    figures.append(
        "page against file: "
        + ", ".join(f"{name} {value:.3f}" for name, value in far.items())
        + f" (allowed {CENTS} cents, {DECIBELS} dB, {SECONDS} s)"
    )
    for most, names in BY_UNIT.items():
        assert max(far[name] for name in names) <= most, far
    assert max(far[name] for name in ("hold", "place", "attack", "release")) <= SECONDS, far


def test_from_a_step_away_it_says_large_what_to_play_now_and_nothing_in_a_rest(
    hears, nor, live_server, troubles
):
    browser, _path = hears
    page = page_of(browser, live_server, nor[0], troubles)
    back, note = page.get_by_role("link", name="Back to today"), page.locator("[data-note]")
    expect(back).to_be_visible()
    page.get_by_role("button", name="Record").click()

    expect(note).to_have_text("G")
    size = note.evaluate("element => parseFloat(getComputedStyle(element).fontSize)")
    # A capital is about 0.7 of its size: 4 mm of it for each metre away (common practice, no
    # published source), and a pixel of CSS is a 96th of an inch.
    assert 0.7 * size * 25.4 / 96 >= 8
    expect(back).to_be_hidden()
    expect(page.get_by_text("Rest. Next: F♯")).to_be_visible(timeout=20_000)
    expect(note).to_be_empty()
    page.set_viewport_size({"width": 844, "height": 390})
    expect(page.get_by_role("button", name="Stop")).to_be_in_viewport(ratio=1)
    page.get_by_role("button", name="Stop").click()
    expect(back).to_be_visible()


def test_what_is_thrown_away_is_sent_to_nobody(hears, nor, live_server, troubles):
    browser, _path = hears
    page = page_of(browser, live_server, nor[0], troubles)
    sent = []
    page.on("request", lambda request: sent.append(request.method))

    record(page, 2)
    expect(page.get_by_text("It is only on this page now.")).to_be_visible()
    page.wait_for_function("document.querySelector('audio').readyState >= 1")
    length = page.evaluate("document.querySelector('audio').duration")
    page.get_by_role("button", name="Throw it away").click()

    expect(page.get_by_role("button", name="Record")).to_be_focused()
    assert 1.5 < length < 4
    assert "POST" not in sent
    with scopes_disabled():
        assert Recording.objects.count() == 0


def test_a_refused_microphone_is_said_in_words(phone: Page, nor, live_server):
    phone.add_init_script(
        "navigator.mediaDevices.getUserMedia = () =>"
        " Promise.reject(new DOMException('no', 'NotAllowedError'));"
    )
    student, _teacher = nor
    paired = makers.a_grant(student)
    for key, one in makers.a_phone(paired).cookies.items():
        phone.context.add_cookies([{"name": key, "value": one.value, "url": live_server.url}])
    phone.goto(f"{live_server.url}/practice/{student.public_id}/recording")

    phone.get_by_role("button", name="Record").click()

    expect(phone.get_by_text("This page may not hear you.")).to_be_visible()
    expect(phone.get_by_role("button", name="Try again")).to_be_focused()


def test_a_browser_without_what_it_takes_is_told_so(phone: Page, nor, live_server):
    phone.add_init_script("delete window.AudioWorkletNode;")
    student, _teacher = nor
    for key, one in makers.a_phone(makers.a_grant(student)).cookies.items():
        phone.context.add_cookies([{"name": key, "value": one.value, "url": live_server.url}])

    phone.goto(f"{live_server.url}/practice/{student.public_id}/recording")

    expect(phone.get_by_text("This browser can not record.")).to_be_visible()
