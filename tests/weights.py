"""How heavy a page may be, and how heavy it is: bytes as they come over the wire.

The first visit is that of a browser that knows nothing and runs no worker; the next is the same
page once more. Headers count, as whoever pays for the line pays for them too.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from playwright.sync_api import BrowserContext, Page, Request

from tests.browser import LAPTOP, PHONE
from tests.wire import Wire

# A page whose scripts begin to ask later than this after it has loaded looks lighter than it is.
QUIET_MILLISECONDS = 80
PATIENCE_MILLISECONDS = 15_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The most bytes of the first visit, of the next, and of the first visit's JavaScript."""

    first: int
    next: int
    scripts: int


OF_A_PHONE = Budget(first=150_000, next=20_000, scripts=40_000)
# A teacher's page has no limit of its own for scripts: they count into the first visit.
BUDGETS = {
    "owner": Budget(first=250_000, next=30_000, scripts=250_000),
    "student": OF_A_PHONE,
    "parent": OF_A_PHONE,
}
KINDS = {"owner": LAPTOP, "student": PHONE, "parent": PHONE}
# The library of the charts comes when a teacher asks for it, outside the budget of the page.
LIBRARY = "plotly"
MOST_OF_THE_LIBRARY = 400_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The paths of the pages of a role by name, and the cookies that open them."""

    pages: dict[str, str]
    cookies: dict[str, str]

    def cookies_at(self, url: str) -> list[Any]:
        """Write the cookies as a browser takes them."""
        return [{"name": name, "value": value, "url": url} for name, value in self.cookies.items()]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """What a page weighed: bytes of both visits and of JavaScript; whether the library came."""

    page: str
    role: str
    first: int
    next: int
    scripts: int
    asked_for_library: bool

    def breaches(self) -> list[str]:
        """Say what lies over the budget of the role."""
        budget = BUDGETS[self.role]
        over = [
            f"{self.role}, {self.page}: {words} {found:,} bytes, at most {most:,}"
            for words, found, most in (
                ("first visit", self.first, budget.first),
                ("next visit", self.next, budget.next),
                ("JavaScript", self.scripts, budget.scripts),
            )
            if found > most
        ]
        if self.asked_for_library:
            over.append(f"{self.role}, {self.page}: the library of the charts, not asked for")
        return over


def weigh(
    new_context: Callable[..., BrowserContext], wire: Wire, *, role: str, opened: Opened, page: str
) -> Weight:
    """Open a page twice in a browser of its own; raise where it is not shown."""
    context, path = new_context(**KINDS[role], service_workers="block"), opened.pages[page]
    context.add_cookies(opened.cookies_at(wire.address))
    asked = _Asked(context)
    tab = context.new_page()
    scripts = wire.scripts
    first = _visit(tab, wire, path, asked)
    scripts, library = wire.scripts - scripts, asked.library
    tab.goto("about:blank")
    found = Weight(
        page=page,
        role=role,
        first=first,
        next=_visit(tab, wire, path, asked),
        scripts=scripts,
        asked_for_library=library or asked.library,
    )
    context.close()
    return found


def _visit(tab: Page, wire: Wire, path: str, asked: "_Asked") -> int:
    before = wire.received
    answer = tab.goto(wire.address + path)
    if answer is None or answer.status != 200 or not tab.url.startswith(wire.address + path):
        raise RuntimeError(f"{path} leads to {tab.url}: {answer and answer.status}")
    for _ in range(PATIENCE_MILLISECONDS // QUIET_MILLISECONDS):
        came = wire.received
        tab.wait_for_timeout(QUIET_MILLISECONDS)
        if came == wire.received and not asked.waiting:
            return came - before
    raise RuntimeError(f"{path} still waits for {sorted(asked.waiting.values())}")


class _Asked:
    """What the pages of a browser asked for, and what of it they wait for."""

    def __init__(self, context: BrowserContext) -> None:
        self.library = False
        self.waiting: dict[Request, str] = {}
        context.on("request", self._begun)
        context.on("requestfinished", self._over)
        context.on("requestfailed", self._over)

    def _begun(self, request: Request) -> None:
        self.waiting[request] = request.url
        self.library = self.library or LIBRARY in request.url

    def _over(self, request: Request) -> None:
        self.waiting.pop(request, None)
