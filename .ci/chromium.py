"""Find a Chromium for the browser tests or install one; never let them be skipped in silence.

As root on a system with apt-get it comes from there, as root elsewhere through Playwright.
Without root this stops with the one command to type.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from playwright.sync_api import sync_playwright

from tests import browser


def find() -> str | None:
    """Find the Chromium the browser tests will start."""
    with sync_playwright() as playwright:
        return browser.found(playwright.chromium.executable_path)


def run(*command: str) -> None:
    """Run one step of the installation; what it says goes to the screen."""
    quietly = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(command, env=quietly, stdin=subprocess.DEVNULL, check=False)


def install() -> None:
    """Install a Chromium, which only root may."""
    print("Installing Chromium for the browser tests", flush=True)
    if shutil.which("apt-get"):
        run("apt-get", "update", "-qq")
        run("apt-get", "install", "-y", "-qq", "--no-install-recommends", "chromium")
    else:
        run(sys.executable, "-m", "playwright", "install", "--with-deps", "chromium")


def main() -> None:
    """Have a Chromium at the end, or stop with the command that brings one."""
    if find() is None and os.geteuid() == 0:
        install()
    if find() is None:
        sys.exit(f"The browser tests need Chromium. Type: {browser.command_to_type()}")


if __name__ == "__main__":
    main()
