"""A student's phone in a real Chromium: with its worker, its cookies, and a net that fails."""

import json
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from django.conf import settings
from playwright.sync_api import BrowserContext, Error, Page, expect

from tests import browser as chromium
from tests.makers import PairedPhone

ANSWERS = ("attack", "sound", "evenness", "release", "effort")
# What a page without signal logs, and what is logged where an answer is lost on purpose.
NO_SIGNAL = r"net::ERR_(INTERNET_DISCONNECTED|FAILED|NETWORK_CHANGED|ABORTED)"

# A net that loses what the test says. The reply is lost after the server has done its work.
UNSTEADY = """(() => {
  const real = window.fetch;
  const lose = { requests: 0, replies: 0, posts: [] };
  window.lose = lose;
  window.fetch = async (address, how) => {
    if (how?.method !== "POST") return real(address, how);
    lose.posts.push(String(address));
    if (lose.requests > 0) { lose.requests -= 1; throw new TypeError("the request is lost"); }
    const answer = await real(address, how);
    if (lose.replies > 0) { lose.replies -= 1; throw new TypeError("the reply is lost"); }
    return answer;
  };
})();"""
ROWS = """() => new Promise((done, fail) => {
  const asked = indexedDB.open("filar", 1);
  asked.onupgradeneeded = () => {
    asked.result.createObjectStore("outbox", { keyPath: "key" });
    asked.result.createObjectStore("lease", { keyPath: "name" });
  };
  asked.onerror = () => fail(asked.error);
  asked.onsuccess = () => {
    const all = asked.result.transaction("outbox").objectStore("outbox").getAll();
    all.onsuccess = () => { asked.result.close(); done(all.result); };
    all.onerror = () => fail(all.error);
  };
})"""
KEPT = """async () => {
  const found = {};
  for (const name of await caches.keys()) {
    found[name] = (await (await caches.open(name)).keys()).map((one) => new URL(one.url).pathname);
  }
  return found;
}"""
FILL = """(answers) => {
  for (const [name, value] of Object.entries(answers)) {
    const fields = [...document.querySelectorAll(`[name="${name}"]`)];
    const choice = fields.find((one) => one.type === "radio" && one.value === value);
    if (choice) choice.checked = true;
    else if (fields[0]) fields[0].value = value;
  }
}"""


def paired(context: BrowserContext, address: str, *phones: PairedPhone) -> None:
    """Give a browser the cookie of a phone that is set up for these students."""
    value = "~".join(one.cookie for one in phones)
    context.add_cookies([{"name": settings.PHONE_COOKIE_NAME, "value": value, "url": address}])


def a_browser(new_context: Callable[..., BrowserContext], **kind: Any) -> BrowserContext:
    """Make a phone's browser that may run the worker."""
    context = new_context(**{**chromium.PHONE, "service_workers": "allow", **kind})
    context.add_init_script(UNSTEADY)
    return context


def keeps_everything(page: Page, today: str) -> None:
    """Wait until the worker has kept the student's pages: the first visit is over."""
    page.goto(today)
    page.evaluate(
        """() => new Promise((done) => {
          const student = document.querySelector("[data-today]").dataset.student;
          const look = async () => {
            const shelf = await caches.open("filar-pages-" + student);
            if (await shelf.match("/edition") && navigator.serviceWorker.controller) done();
            else setTimeout(look, 20);
          };
          look();
        })"""
    )


def rows(page: Page) -> list[dict[str, Any]]:
    """Read what waits on the phone, straight from its store."""
    found: list[dict[str, Any]] = page.evaluate(ROWS)
    return sorted(found, key=lambda row: row["put_at"])


def shelves(page: Page) -> list[str]:
    """Read the names of the worker's caches. To look into one would make it anew where it went."""
    found: list[str] = page.evaluate("() => caches.keys()")
    return found


def kept(page: Page) -> dict[str, list[str]]:
    """Read what the worker keeps: the paths in each of its caches. Not while they may go."""
    found: dict[str, list[str]] = page.evaluate(KEPT)
    return found


def fill(page: Page, **answers: str) -> None:
    """Answer the check-in; what is not given is answered with the middle button."""
    middle = dict.fromkeys(ANSWERS, "3") | {"effort": "6"}
    page.evaluate(FILL, middle | answers)


def save(page: Page) -> None:
    """Tap the button of a day on which nothing hurt."""
    page.get_by_role("button", name="Nothing hurt. Save for").click()


def is_ready(page: Page) -> None:
    """Wait until the check-in's script has taken the form over."""
    expect(page.locator("[data-for-words]")).to_contain_text("For ")
    page.locator("form[data-ready]").wait_for(state="attached")


def says_saved_here(page: Page) -> None:
    """Wait for what is said once it is stored on this phone."""
    expect(
        page.get_by_text("Saved on this phone. It will send when you have signal.")
    ).to_be_visible()


def says_saved_there(page: Page) -> None:
    """Wait for what is said once the server has echoed it."""
    expect(page.get_by_text("Saved. Your teacher can see it.")).to_be_visible()


def session_result(page: Page, **fields: Any) -> None:
    """Leave the result of a session on the phone, as the player does."""
    page.evaluate("result => sessionStorage.setItem('filar.session', result)", json.dumps(fields))


def without_background(page: Page) -> None:
    """Take the browser's own background sending away, as most browsers have none."""
    page.evaluate(
        "() => Object.defineProperty("
        "ServiceWorkerRegistration.prototype, 'sync', { value: undefined })"
    )


def ask(page: Page, expression: str, argument: Any = None) -> Any:
    """Ask a page something; one that loads itself anew in the middle is asked again."""
    for _ in range(chromium.PATIENCE_MILLISECONDS // 50):
        try:
            return page.evaluate(expression, argument)
        except Error as error:
            if "Execution context was destroyed" not in error.message:
                raise
        page.wait_for_load_state()
    raise AssertionError("The page never stayed.")


def go(page: Page, address: str) -> None:
    """Open an address as a person does: once more where a page that loads itself anew cuts in."""
    try:
        page.goto(address)
    except Error as error:
        if "ERR_ABORTED" not in error.message:
            raise
        page.wait_for_load_state()
        page.goto(address)


def until(page: Page, is_so: Callable[[], bool]) -> None:
    """Wait for something that no page shows; give up after the usual patience."""
    for _ in range(chromium.PATIENCE_MILLISECONDS // 50):
        # A page that loads itself anew in the middle of a question is asked again.
        with suppress(Error):
            if is_so():
                return
        page.wait_for_timeout(50)
    raise AssertionError("It did not come about.")
