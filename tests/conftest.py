"""What every test stands on: served files as in production, quick passwords, a watched browser."""

import os
from collections.abc import Callable, Generator, Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.core.handlers.wsgi import WSGIHandler
from django.core.management import call_command
from django.db import connections
from django.test import override_settings
from django.test.testcases import LiveServerThread
from playwright.sync_api import BrowserContext, Page, Playwright, expect
from pytest_django.live_server_helper import LiveServer

from tests import both
from tests import browser as chromium

# Playwright's calls run an event loop in the thread of the test, where Django would otherwise
# refuse to ask the database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
expect.set_options(timeout=chromium.PATIENCE_MILLISECONDS)

# `pytest --hypothesis-profile battery` tries every property on 5,000 cases.
# No test fails because the computer was busy.
hypothesis.settings.register_profile("usual", deadline=None)
hypothesis.settings.load_profile("usual")
hypothesis.settings.register_profile("battery", max_examples=5000, deadline=None)

IN_A_BROWSER = {"browser", "context", "new_context", "page"}
FIGURE = "figure"
ENDINGS = ("passed", "failed", "error")


class ApplicationAlone(WSGIHandler):
    """Stands where the test server would answer for static files itself, before any middleware."""

    def __init__(self, _media_files: WSGIHandler) -> None:
        super().__init__()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add `--battery`: full counts, and the long tests that are left out otherwise."""
    parser.addoption("--battery", action="store_true", help="full counts; see `make battery`")
    parser.addoption(
        "--database", action="store_true", help="only what the database can decide; see both.py"
    )
    parser.addoption("--seed", type=int, default=0, help="other seeded runs than those of seed 0")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what drives a browser, so that `-m "not browser"` leaves it out.

    Every property belongs to the battery, which tries it on more cases. A test marked
    `battery(only=True)` is deselected, and counted as such, unless asked for.
    """
    for item in items:
        if IN_A_BROWSER & set(getattr(item, "fixturenames", ())):
            item.add_marker("browser")
        if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
            item.add_marker("battery")
    if config.getoption("--database"):
        others = [item for item in items if not both.is_decided_by_the_database(item)]
        items[:] = [item for item in items if item not in set(others)]
        config.hook.pytest_deselected(items=others)
    if not config.getoption("--battery"):
        long = [item for item in items if _is_of_the_battery_only(item)]
        items[:] = [item for item in items if item not in long]
        config.hook.pytest_deselected(items=long)


def _is_of_the_battery_only(item: pytest.Item) -> bool:
    mark = item.get_closest_marker("battery")
    return mark is not None and bool(mark.kwargs.get("only"))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the figures that tests measured and do not assert, whichever process ran them."""
    for report in chain.from_iterable(terminalreporter.stats.values()):
        if getattr(report, "when", None) == "teardown":
            for name, line in report.user_properties:
                if name == FIGURE:
                    terminalreporter.write_line(f"figure: {line}")
    options = terminalreporter.config
    if options.getoption("--battery"):
        counts = {how: len(terminalreporter.stats.get(how, [])) for how in ENDINGS}
        terminalreporter.write_line(
            f"battery: seed {options.getoption('--seed')}, "
            f"{hypothesis.settings().max_examples} cases of each property, "
            + ", ".join(f"{count} {how}" for how, count in counts.items())
        )


@pytest.fixture
def figures(record_property: Callable[[str, object], None]) -> Iterator[list[str]]:
    """Lines with what was measured; they are printed at the end of the run."""
    lines: list[str] = []
    yield lines
    for line in lines:
        record_property(FIGURE, line)


@pytest.fixture
def is_battery(request: pytest.FixtureRequest) -> bool:
    """Whether the full counts were asked for."""
    return bool(request.config.getoption("--battery"))


@pytest.fixture
def seed(request: pytest.FixtureRequest) -> int:
    """Which seeded runs were asked for; 0 unless `make battery SEED=1` or the like."""
    return int(request.config.getoption("--seed"))


@pytest.hookimpl(wrapper=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> Generator[None, object, object]:
    """Fail a test whose pages had trouble, as if it had asked for that itself."""
    result = yield
    troubles = pyfuncitem.funcargs.get("troubles")
    if isinstance(troubles, chromium.Troubles) and troubles.left():
        pytest.fail(chromium.in_words(troubles.left()), pytrace=False)
    return result


@pytest.fixture(scope="session", autouse=True)
def quick_passwords() -> Iterator[None]:
    """Hash passwords in a moment; the real hasher takes a tenth of a second on purpose."""
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]):
        yield


@pytest.fixture(scope="session", autouse=True)
def folder_of_their_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep what is written beside the database out of the studio's own `var/`."""
    with override_settings(VAR_DIR=tmp_path_factory.mktemp("var")):
        yield


@pytest.fixture(scope="session")
def collected_static(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """The static files as a release serves them: collected once, under hashed names."""
    root = tmp_path_factory.mktemp("static")
    with override_settings(STATIC_ROOT=root):
        call_command("collectstatic", interactive=False, verbosity=0)
        yield root


@pytest.fixture(autouse=True)
def _released_files(request: pytest.FixtureRequest) -> None:
    # The engines render nothing, and their tests should start at once.
    if "engine" not in request.path.parent.parts:
        request.getfixturevalue("collected_static")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Put SQLite's test database into a file: in memory all threads would share one connection."""
    database = connections["default"]
    if database.vendor == "sqlite":
        name = tmp_path_factory.mktemp("database") / "test.sqlite3"
        database.settings_dict["TEST"]["NAME"] = str(name)


@pytest.fixture(scope="session")
def live_server(collected_static: Path) -> Iterator[LiveServer]:
    """The application on a loopback port, its static files from WhiteNoise as in a release."""
    server = LiveServer("127.0.0.1", start=False)
    server.thread = LiveServerThread(
        "127.0.0.1",
        static_handler=ApplicationAlone,
        connections_override=server.thread.connections_override,
    )
    server.thread.daemon = True
    server.start()
    yield server
    server.stop()


@pytest.fixture(autouse=True)
def _served_address(request: pytest.FixtureRequest) -> None:
    # Links that leave the studio are made from the setting, never from the Host header.
    if "live_server" in request.fixturenames:
        settings = request.getfixturevalue("settings")
        settings.ADDRESS = request.getfixturevalue("live_server").url


@pytest.fixture(scope="session")
def browser_type_launch_args(
    browser_type_launch_args: dict[str, Any], playwright: Playwright
) -> dict[str, Any]:
    """Start the Chromium that was found; without one every browser test fails and says why."""
    path = chromium.found(playwright.chromium.executable_path)
    if path is None:
        pytest.fail(f"No Chromium on this computer. Type: {chromium.command_to_type()}")
    return {**browser_type_launch_args, "executable_path": path, "args": chromium.arguments()}


@pytest.fixture
def troubles() -> chromium.Troubles:
    """What the pages of this test did wrong: errors, violated policy, requests elsewhere."""
    return chromium.Troubles()


@pytest.fixture
def new_context(
    new_context: Callable[..., BrowserContext], troubles: chromium.Troubles
) -> Callable[..., BrowserContext]:
    """Make a browser context that is watched and has patience, but not for ever."""

    def watched(**kind: Any) -> BrowserContext:
        # A worker would fetch pages beside the test's own; who tests it says "allow".
        context = new_context(**{"service_workers": "block", **kind})
        context.set_default_timeout(chromium.PATIENCE_MILLISECONDS)
        troubles.watch(context)
        return context

    return watched


@pytest.fixture
def watched_page(page: Page) -> Page:
    """A page whose troubles fail the test; every `page` here is one, this says it aloud."""
    return page


@pytest.fixture
def laptop(new_context: Callable[..., BrowserContext]) -> Page:
    """A teacher's laptop: a browser of its own, 1280 x 800."""
    return new_context(**chromium.LAPTOP).new_page()


@pytest.fixture
def phone(new_context: Callable[..., BrowserContext]) -> Page:
    """A student's phone: a browser of its own, 390 x 844, with touch."""
    return new_context(**chromium.PHONE).new_page()
