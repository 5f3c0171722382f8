"""`python -m tests.pictures`: the README's pictures, of the demo's studio on one fixed day.

Nothing here depends on the day or the place it is run: the clock of the server and of the browser
stand on MOMENT, the invented people are drawn from one seed, and no motion is shown.
"""

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from threading import Thread
from typing import Any

import django
import time_machine
from django.core.management import call_command
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests import browser
from tests.ports import free_port

TOP = Path(__file__).resolve().parent.parent
SHOWN_IN = TOP / "docs" / "pictures"
MOMENT = datetime(2026, 3, 3, 16, 5, tzinfo=UTC)
MOST_BYTES = 150_000
PAGE: dict[str, Any] = {"viewport": {"width": 1120, "height": 800}}
PHONE: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
SAME: dict[str, Any] = {
    "locale": "en-GB", "timezone_id": "Europe/London", "color_scheme": "light",
    "reduced_motion": "reduce", "service_workers": "block",
}  # fmt: skip
# Sound and pictures follow one clock that stands until it is moved.
STANDING_CLOCK = """
    window.second = 0;
    performance.now = () => window.second * 1000;
    const time = { get: () => window.second };
    Object.defineProperty(BaseAudioContext.prototype, "currentTime", time);"""
# What is drawn anew in parts differs by a shade from what is drawn at once.
ALWAYS_DRAWN_WHOLE = ("--disable-partial-raster", "--disable-gpu")
COUNT_IN, SIXTH_COUNT = 4, 5.1


@contextmanager
def studio(folder: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Serve the demo's studio from a folder; give its address and the ways in."""
    port = free_port()
    for name in ("DATABASE_URL", "FILAR_ADDRESS", "FILAR_DEBUG"):
        os.environ.pop(name, None)
    os.environ |= {
        "FILAR_VAR": folder, "PORT": str(port), "DJANGO_SETTINGS_MODULE": "config.settings",
    }  # fmt: skip
    django.setup()
    call_command("collectstatic", interactive=False, verbosity=0)
    ways_in = StringIO()
    call_command("demo_studio", "--json", stdout=ways_in)
    server = _server(port)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{port}", json.loads(ways_in.getvalue())
    finally:
        server.shutdown()


def _server(port: int) -> Any:
    # Django has to be set up first.
    from django.core.servers.basehttp import (  # noqa: PLC0415
        ThreadedWSGIServer,
        WSGIRequestHandler,
    )
    from django.core.wsgi import get_wsgi_application  # noqa: PLC0415

    class Quiet(WSGIRequestHandler):
        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the library's name
            """Say nothing of single requests."""

    server = ThreadedWSGIServer(("127.0.0.1", port), Quiet)
    server.daemon_threads = True
    server.set_app(get_wsgi_application())
    return server


def open_page(chromium: Browser, kind: dict[str, Any]) -> Page:
    """Open a page whose clock stands on the fixed moment."""
    context: BrowserContext = chromium.new_context(**kind, **SAME)
    page = context.new_page()
    page.clock.set_fixed_time(MOMENT)
    return page


def keep(page: Page, name: str) -> None:
    """Take the picture of what is to be seen now; refuse one that is too large to be looked at."""
    page.evaluate("document.fonts.ready.then(() => document.activeElement.blur())")
    path = SHOWN_IN / f"{name}.png"
    page.screenshot(path=path, animations="disabled")
    size = path.stat().st_size
    if size > MOST_BYTES:
        sys.exit(f"{path.name} has {size} bytes: show less of the page, at most {MOST_BYTES}.")
    sys.stdout.write(f"{path.relative_to(TOP)}  {size} bytes\n")


def desk(page: Page, address: str, teacher: dict[str, str]) -> None:
    """Take the pictures of the teacher's desk."""
    page.goto(f"{address}/sign-in")
    page.get_by_label("E-mail").fill(teacher["email"])
    page.get_by_label("Password", exact=True).fill(teacher["password"])
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/overview")
    keep(page, "overview")
    page.get_by_role("heading", name="May be ready").locator("+ ol a").first.click()
    page.get_by_role("button", name="Show charts").click()
    expect(page.locator(".js-plotly-plot").nth(3)).to_be_visible()
    page.locator("[data-charts-figures]").evaluate("part => part.scrollIntoView()")
    keep(page, "charts")


def phone(page: Page, address: str, pair: str) -> None:
    """Take the pictures of a student's phone."""
    page.add_init_script(STANDING_CLOCK)
    page.goto(address + pair)
    page.get_by_role("button", name="Use this phone").click()
    page.wait_for_url("**/practice/*")
    page.get_by_role("link", name="Start").click()
    expect(page.get_by_role("button", name="Pause")).to_be_visible()
    page.evaluate("second => { window.second = second; }", COUNT_IN + SIXTH_COUNT)
    expect(page.locator("[data-word]")).to_have_text("Hold")
    keep(page, "session")
    page.goto(page.url.partition("/session")[0] + "/check-in")
    keep(page, "check-in")


def main() -> int:
    """Make every picture anew."""
    with (
        tempfile.TemporaryDirectory() as folder,
        time_machine.travel(MOMENT),
        studio(folder) as (address, ways_in),
        sync_playwright() as playwright,
    ):
        path = browser.found(playwright.chromium.executable_path)
        if path is None:
            sys.stderr.write(f"No Chromium on this computer. Type: {browser.command_to_type()}\n")
            return 1
        arguments = [*browser.arguments(), *ALWAYS_DRAWN_WHOLE]
        chromium = playwright.chromium.launch(executable_path=path, args=arguments)
        desk(open_page(chromium, PAGE), address, ways_in["teacher"])
        phone(open_page(chromium, PHONE), address, ways_in["students"][0]["pair"])
        chromium.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
