"""Seeded runs of what happens to a phone: nothing that was saved is lost, doubled or only said.

Each run makes the same steps from the same seed: open the check-in in one of two tabs, for one of
two students; tap once, twice or three times; lose signal and find it; load anew; lose a request
or a reply; close the app, also in the middle of a tap. After every step each "Saved" on the screen
is compared with the phone's store and the server; at the end each check-in is counted.
"""

from dataclasses import dataclass, field
from random import Random

import pytest
from django_scopes import scopes_disabled
from playwright.sync_api import BrowserContext, Page

from progress.models import CheckIn
from studio.models import Tries
from tests import makers
from tests.offline import phones
from tests.offline.test_room_and_taps import TAPS

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.battery]

RUNS_IN_A_TEST = 20
STEPS, STEPS_IN_THE_BATTERY = 5, 10
SHOWN = """() => ["here", "there"].find((name) =>
  document.querySelector(`[data-kept-${name}]`)?.checkVisibility()) ?? ''"""
WORDS_WAITING = f"""async () => (await ({phones.ROWS})()).map((row) =>
  new URLSearchParams(row.body).get("words"))"""


@dataclass
class Tab:
    """One page of the app, and the words of the check-in that was last saved in it."""

    page: Page
    words: str = ""


@dataclass
class Run:
    """One seeded run on a phone, with what was tapped and what was promised."""

    seed: int
    context: BrowserContext
    addresses: list[str]
    steps: int = STEPS
    tabs: list[Tab] = field(default_factory=list)
    tapped: set[str] = field(default_factory=set)
    promised: set[str] = field(default_factory=set)
    said: int = 0
    online: bool = True

    def __post_init__(self) -> None:
        self.random = Random(self.seed)  # noqa: S311 - the same steps from the same seed
        self.tabs = [self.a_tab()]

    def a_tab(self) -> Tab:
        page = self.context.new_page()
        page.goto(self.random.choice(self.addresses))
        return Tab(page)

    def play(self) -> None:
        for _ in range(self.steps):
            step = self.random.choices(
                [self.save, self.save_and_close, self.turn_signal, self.load_anew, self.lose,
                 self.close, self.second_tab],
                weights=[8, 1, 5, 2, 3, 1, 1],
            )[0]  # fmt: skip
            step(self.random.choice(self.tabs))
            self.check()
        self.end()

    def open_and_fill(self, tab: Tab) -> str:
        tab.words = ""
        phones.go(tab.page, f"{self.random.choice(self.addresses)}/check-in")
        phones.is_ready(tab.page)
        change = tab.page.get_by_role("button", name="Change it")
        if change.is_visible():
            change.click()
        words = f"run {self.seed}, save {len(self.tapped)}"
        phones.fill(tab.page, words=words)
        self.tapped.add(words)
        return words

    def save(self, tab: Tab) -> None:
        words = self.open_and_fill(tab)
        gaps = [self.random.choice([0, 5, 60]) for _ in range(self.random.randrange(3))]
        if self.random.random() < 0.4:
            tab.page.evaluate("() => { window.lose.replies = 1; }")
        tab.words = words
        tab.page.evaluate(TAPS, [*gaps, 0])
        tab.page.locator("[data-kept-panel]:not([hidden])").wait_for()

    def save_and_close(self, tab: Tab) -> None:
        self.open_and_fill(tab)
        tab.page.evaluate(TAPS, [0])
        self.close(tab)

    def turn_signal(self, _tab: Tab) -> None:
        self.online = not self.online
        self.context.set_offline(not self.online)

    def load_anew(self, tab: Tab) -> None:
        tab.words = ""
        tab.page.reload()

    def lose(self, tab: Tab) -> None:
        what = self.random.choice(["requests", "replies"])
        phones.ask(tab.page, "what => { window.lose[what] = 2; }", what)

    def close(self, tab: Tab) -> None:
        tab.page.close()
        self.tabs.remove(tab)
        if not self.tabs:
            self.tabs.append(self.a_tab())

    def second_tab(self, _tab: Tab) -> None:
        if len(self.tabs) == 1:
            self.tabs.append(self.a_tab())

    def check(self) -> None:
        """Compare what the screens say with what is so; the store is read before the server."""
        shown = [(tab.words, phones.ask(tab.page, SHOWN)) for tab in self.tabs if tab.words]
        waiting = phones.ask(self.tabs[0].page, WORDS_WAITING)
        there = on_the_server()
        for words, where in shown:
            if where:
                self.said += 1
                self.promised.add(words)
                assert words in waiting or words in there, f"only said: {words}"
            if where == "there":
                assert words in there, f"said to be seen: {words}"

    def end(self) -> None:
        """Find signal again, open the app, and count."""
        self.context.set_offline(False)
        for tab in self.tabs:
            tab.page.close()
        page = self.context.new_page()
        page.goto(self.addresses[0])
        phones.until(page, lambda: phones.rows(page) == [])
        there = [words for words in on_the_server() if words.startswith(f"run {self.seed},")]
        assert sorted(there) == sorted(set(there)), "doubled"
        assert self.promised <= set(there), "lost"
        assert set(there) <= self.tapped, "never tapped"
        page.close()


def on_the_server() -> list[str]:
    with scopes_disabled():
        return list(CheckIn.objects.values_list("words", flat=True))


def seeds(config: pytest.Config) -> list[range]:
    number = 200 if config.getoption("--battery") else RUNS_IN_A_TEST
    first = 1000 * config.getoption("--seed")
    return [
        range(begins, begins + RUNS_IN_A_TEST)
        for begins in range(first, first + number, RUNS_IN_A_TEST)
    ]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "runs" in metafunc.fixturenames:
        chosen = seeds(metafunc.config)
        metafunc.parametrize("runs", chosen, ids=[f"{one[0]}-{one[-1]}" for one in chosen])


def test_nothing_that_was_saved_is_lost_doubled_or_only_said(
    runs, nors, nor, live_server, figures, is_battery
):
    sam = makers.a_student(nor.studio, name="Sam")
    makers.a_block(sam, weekdays_off=[])
    phones.paired(nors.context, live_server.url, nors.paired, makers.a_grant(sam))
    addresses = [nors.today, nors.today.replace(nor.public_id, sam.public_id)]
    phones.keeps_everything(nors.page, addresses[1])
    nors.page.close()

    steps = STEPS_IN_THE_BATTERY if is_battery else STEPS
    saves = said = 0
    for seed in runs:
        Tries.objects.all().delete()  # as if an hour lay between two runs
        run = Run(seed=seed, context=nors.context, addresses=addresses, steps=steps)
        run.play()
        saves, said = saves + len(run.tapped), said + run.said

    figures.append(
        f"phone model, seeds {runs[0]} to {runs[-1]}: {saves} saves, {said} looks at a Saved; "
        "0 lost, 0 doubled, 0 only said"
    )
