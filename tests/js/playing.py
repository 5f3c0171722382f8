"""Words for the taps and looks of the session's tests."""

import json
import re
from typing import Any

from playwright.sync_api import Page, expect

# Short and fast, so that a whole session is played in a moment.
SHORT: dict[str, Any] = {"hold": 2, "rest": 0, "tempo": 240, "top_is_open": False}
THREE_NOTES = [(67, "down"), (66, "down"), (65, "down")]


def press(page: Page, name: str) -> None:
    """Tap the button that begins with these words."""
    page.get_by_role("button", name=re.compile(f"^{name}")).click()


def word(page: Page, text: str) -> None:
    """Wait until the large word says this."""
    expect(page.locator("[data-word]")).to_have_text(text)


def result(page: Page) -> dict[str, Any]:
    """What the check-in is told."""
    found: dict[str, Any] = json.loads(
        page.evaluate("() => sessionStorage.getItem('filar.session') ?? '{}'")
    )
    return found


def prefer(page: Page, **settings: Any) -> None:
    """Open the next page with these settings kept on the phone."""
    kept = json.dumps(json.dumps(settings))
    page.add_init_script(f"localStorage.setItem('filar.settings', {kept});")
