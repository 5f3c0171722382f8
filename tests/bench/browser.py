"""What whoever opens a page waits for: bytes over the wire, and times on a slow phone."""

import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial

from playwright.sync_api import BrowserContext, expect, sync_playwright

from tests import browser, vitals, weights
from tests.bench import demo
from tests.bench.server import Server
from tests.weights import Opened
from tests.wire import counted

# Pages by what the report calls them: who opens them, and the name of their address.
QUICK = {
    "Today": ("student", "progress:today"),
    "check-in": ("student", "progress:check_in"),
    "session": ("student", "routines:session"),
    "My month": ("student", "progress:month"),
    "overview": ("owner", "progress:overview"),
    "student page": ("owner", "progress:student"),
    "review": ("owner", "progress:review_block"),
    "assign": ("owner", "routines:assign"),
}
CHARTS = "progress:student"


@dataclass(frozen=True, slots=True, kw_only=True)
class Browser:
    """What a browser met: weights of pages, their vitals, the charts' library, the demo's start.

    The library's bytes are those of all JavaScript that came after "Show charts". Starts are in
    seconds.
    """

    version: str
    weights: list[weights.Weight]
    vitals: Mapping[str, vitals.Vitals]
    library: int
    starts: list[float]
    errors: list[str] = field(default_factory=list)


def measure(server: Server, rounds: int) -> Browser | None:
    """Look at the pages of a server that runs; None where there is no Chromium."""
    opened = {role: Opened(**one) for role, one in server.open_everything().items()}
    with _chromium() as found:
        if found is None:
            sys.stderr.write(f"No Chromium here. Type: {browser.command_to_type()}\n")
            return None
        version, new_context = found
        errors: list[str] = []
        return Browser(
            version=version,
            weights=list(_weights(server, opened, new_context, errors)),
            vitals=_vitals(server, opened, new_context, rounds),
            library=_library(server, opened["owner"], new_context),
            starts=demo.starts(rounds),
            errors=errors,
        )


NewContext = Callable[..., BrowserContext]


@contextmanager
def _chromium() -> Iterator[tuple[str, NewContext] | None]:
    with sync_playwright() as playwright:
        path = browser.found(playwright.chromium.executable_path)
        if path is None:
            yield None
            return
        launched = playwright.chromium.launch(executable_path=path, args=browser.arguments())
        try:
            yield launched.version, partial(launched.new_context, service_workers="block")
        finally:
            launched.close()


def _weights(
    server: Server, opened: Mapping[str, Opened], new_context: NewContext, errors: list[str]
) -> Iterator[weights.Weight]:
    for role, one in opened.items():
        with counted(server.url) as wire:
            for page in one.pages:
                try:
                    yield weights.weigh(new_context, wire, role=role, opened=one, page=page)
                except RuntimeError as error:
                    errors.append(str(error))


def _vitals(
    server: Server, opened: Mapping[str, Opened], new_context: NewContext, rounds: int
) -> dict[str, vitals.Vitals]:
    """Open each page in a browser of its own, round after round."""
    found: dict[str, list[vitals.Vitals]] = {words: [] for words in QUICK}
    for _ in range(rounds):
        for words, (role, page) in QUICK.items():
            context = new_context(**weights.KINDS[role])
            context.add_cookies(opened[role].cookies_at(server.url))
            path = opened[role].pages[page]
            found[words].append(vitals.read(context.new_page(), server.url + path))
            context.close()
    return {words: vitals.middle(each) for words, each in found.items()}


def _library(server: Server, owner: Opened, new_context: NewContext) -> int:
    """Press "Show charts"; count the JavaScript that came of it."""
    with counted(server.url) as wire:
        context = new_context(**weights.KINDS["owner"])
        context.add_cookies(owner.cookies_at(wire.address))
        page = context.new_page()
        page.goto(wire.address + owner.pages[CHARTS])
        before = wire.scripts
        page.get_by_role("button", name="Show charts").click()
        expect(page.locator(".main-svg").first).to_be_visible(timeout=30_000)
        wire.until_quiet(page)
        context.close()
        return wire.scripts - before
