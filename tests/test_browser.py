"""The watch on the browser sees what it is there for. Its pages here are not watched otherwise."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from tests import browser as chromium

ADD_IMAGE = "s => { const i = new Image(); i.src = s; document.body.append(i); }"
ADD_SCRIPT = """s => {
    const script = document.createElement("script");
    script.text = s;
    document.body.append(script);
}"""


@pytest.fixture
def watch() -> chromium.Troubles:
    """A watch of its own, so that what it sees does not fail the test."""
    return chromium.Troubles()


@pytest.fixture
def page_with_trouble(
    browser: Browser, live_server: LiveServer, watch: chromium.Troubles
) -> Iterator[Page]:
    """The plainest page that carries the content security policy."""
    context = browser.new_context()
    watch.watch(context)
    page = context.new_page()
    page.goto(f"{live_server.url}/healthz")
    yield page
    context.close()


def test_a_violated_content_security_policy_is_trouble(page_with_trouble, watch):
    with page_with_trouble.expect_event("console"):
        page_with_trouble.evaluate(ADD_SCRIPT, "window.inline = true")

    assert "Content Security Policy" in watch.left()[0]


def test_a_request_to_another_host_is_trouble(page_with_trouble, watch):
    with page_with_trouble.expect_event("console"):
        page_with_trouble.evaluate(ADD_IMAGE, "https://studio.example/x.png")

    assert "request to another host: https://studio.example/x.png" in watch.left()


def test_an_error_in_a_script_is_trouble(page_with_trouble, watch):
    with page_with_trouble.expect_event("pageerror"):
        page_with_trouble.evaluate("() => { setTimeout(() => { throw new Error('no reed'); }) }")

    assert watch.left() == ["page error: no reed"]


def test_what_a_test_expects_is_no_trouble(page_with_trouble, watch):
    watch.allow("no reed")

    with page_with_trouble.expect_event("pageerror"):
        page_with_trouble.evaluate("() => { setTimeout(() => { throw new Error('no reed'); }) }")

    assert watch.left() == []


def test_nothing_outside_this_computer_can_be_reached(page_with_trouble):
    with page_with_trouble.expect_event("requestfailed") as failed:
        page_with_trouble.evaluate("() => { location.href = 'https://studio.example/'; }")

    assert failed.value.failure == "net::ERR_NAME_NOT_RESOLVED"


@pytest.mark.parametrize(("user", "dropped"), [(0, True), (1000, False)])
def test_only_root_drops_the_sandbox(monkeypatch, user, dropped):
    monkeypatch.setattr("os.geteuid", lambda: user)

    assert ("--no-sandbox" in chromium.arguments()) is dropped


def test_without_any_chromium_the_command_to_type_is_said(monkeypatch):
    monkeypatch.setattr("shutil.which", lambda name: "/bin/apt" if name == "apt-get" else None)
    monkeypatch.setattr("os.geteuid", lambda: 1000)

    assert chromium.found("/no/such/file") is None
    assert chromium.command_to_type() == "sudo apt-get install -y chromium"
