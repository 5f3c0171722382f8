"""The player in a real Chromium: collected files, the headers of a real answer, no database."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import RequestFactory
from playwright.sync_api import Page

from .session_maker import a_page, a_session
from .small_site import Site, serving

# The plain names are served beside the hashed ones; what the page itself loads is tested apart.
MODULES = """const part = (name) => import(`/static/js/player/${name}.js`);
const [position, course, result, click, clock, beat] = await Promise.all(
    ["position", "course", "result", "click", "clock", "beat"].map(part));"""
ARRIVED = '<!doctype html><html lang="en"><title>{0}</title><body><h1>{0}</h1></body></html>'


def render(session: dict[str, Any]) -> str:
    """The session page as the view renders it."""
    request = RequestFactory().get("/session")
    return render_to_string("routines/session.html", a_page(session), request=request)


@pytest.fixture
def site(collected_static: Path) -> Iterator[Site]:
    """A served site whose session page a test fills with `open_session`."""
    served = Site(folder=collected_static)
    for name in ("check-in", "today"):
        served.pages[f"/{name}"] = ARRIVED.format(name)
    with serving(served):
        yield served


@pytest.fixture
def ask(page: Page, site: Site) -> Callable[..., Any]:
    """Run a script with the player's modules at hand, by name, on a page with nothing else."""
    site.pages["/bare"] = ARRIVED.format("bare")
    page.goto(f"{site.address}/bare")

    def asked(script: str, *values: Any) -> Any:
        body = f"async (values) => {{ {MODULES}\n{script} }}"
        return page.evaluate(body, list(values))

    return asked


@pytest.fixture
def open_session(page: Page, site: Site) -> Callable[..., Page]:
    """Open a session of the given kind on a phone and wait until Start can be pressed."""

    def opened(width: int = 390, height: int = 844, **kind: Any) -> Page:
        site.pages["/session"] = render(a_session(**kind))
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{site.address}/session")
        page.get_by_role("button", name="Start").wait_for()
        return page

    return opened
