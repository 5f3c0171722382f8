"""The Chromium of the browser tests: where it is, how it starts, and what it must not do.

`python -m tests.browser` prints where it is, or says which command brings one.
"""

import os
import re
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import BrowserContext, ConsoleMessage, Request, WebError, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
THIS_COMPUTER = {"127.0.0.1", "localhost", "::1"}
QUIET = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # Whatever a page or the browser itself asks of another host finds no address.
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
)
PATIENCE_MILLISECONDS = 15_000
LAPTOP: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}


def command_to_type() -> str:
    """Say the one command that brings a Chromium to this computer."""
    if shutil.which("apt-get") is None:
        return ".venv/bin/playwright install chromium"
    return f"{'' if os.geteuid() == 0 else 'sudo '}apt-get install -y chromium"


def of_the_system() -> str | None:
    """Find the Chromium that the system itself has, if any."""
    return next(filter(None, map(shutil.which, NAMES)), None)


def found(bundled: str) -> str | None:
    """Find a Chromium: the system's, else the one that Playwright keeps at `bundled`."""
    return of_the_system() or (bundled if Path(bundled).is_file() else None)


def arguments() -> list[str]:
    """List the flags of every launch; the sandbox cannot start as root, so only root drops it."""
    return [*QUIET, *(["--no-sandbox"] if os.geteuid() == 0 else [])]


@dataclass
class Troubles:
    """What went wrong in the pages of one test, apart from what the test said it expects."""

    seen: list[str] = field(default_factory=list)
    # A newer preview takes the place of one under way, and htmx logs the abort as an error.
    allowed: list[str] = field(default_factory=lambda: [r"htmx:(afterRequest|sendAbort), "])

    def allow(self, *patterns: str) -> None:
        """Expect troubles that match a regular expression, such as the 404 a test asks for."""
        self.allowed.extend(patterns)

    def left(self) -> list[str]:
        """List what was seen and not expected."""
        return [
            trouble
            for trouble in self.seen
            if not any(re.search(pattern, trouble) for pattern in self.allowed)
        ]

    def watch(self, context: BrowserContext) -> None:
        """Follow every page of a context, those still to be opened too."""
        context.on("console", self._on_console)
        context.on("weberror", self._on_error)
        context.on("request", self._on_request)

    def _on_console(self, message: ConsoleMessage) -> None:
        # A violated content security policy arrives here as well: Chromium logs it as an error.
        place = message.location.get("url", "")
        # A page that names no icon, such as plain text, makes the browser guess this address.
        if message.type == "error" and not place.endswith("/favicon.ico"):
            self.seen.append(f"console error: {message.text} ({place})")

    def _on_error(self, error: WebError) -> None:
        self.seen.append(f"page error: {error.error}")

    def _on_request(self, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme in {"http", "https", "ws", "wss"} and parts.hostname not in THIS_COMPUTER:
            self.seen.append(f"request to another host: {request.url}")


def in_words(troubles: Iterable[str]) -> str:
    """Say what a test has to answer for, and how it says that a trouble is meant."""
    listed = "\n".join(f"  {trouble}" for trouble in troubles)
    return (
        f"The browser had trouble:\n{listed}\n"
        'Where it is meant, take the fixture and say so: troubles.allow("a regular expression").'
    )


def main() -> int:
    """Print where the Chromium is; without one, print the command that brings it."""
    with sync_playwright() as playwright:
        path = found(playwright.chromium.executable_path)
    if path is None:
        sys.stderr.write(f"No Chromium on this computer. Type: {command_to_type()}\n")
        return 1
    sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
