"""How quick a page is for whoever waits: LCP, INP and CLS on a slow phone.

Slow 4G is 1.6 Mbit/s down, 0.75 Mbit/s up and 150 ms there and back, with a processor four times as
slow: what the web's own measuring tools call a mid-range phone (Lighthouse's simulated throttling,
from memory). LCP, INP and CLS are read with PerformanceObserver as the W3C's drafts define them; a
good page has 2.5 s, 200 ms and 0.1 or less (web.dev, from memory).
"""

from contextlib import suppress
from statistics import median
from typing import Any

from playwright.sync_api import Error, Page

ROUNDS = 5
SLOWER = 4
SLOW_4G: dict[str, Any] = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
OBSERVE = """(() => {
  const seen = { lcp: 0, cls: 0, inp: 0, answered: 0 };
  window.seen = seen;
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) seen.lcp = one.startTime;
  }).observe({ type: "largest-contentful-paint", buffered: true });
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) if (!one.hadRecentInput) seen.cls += one.value;
  }).observe({ type: "layout-shift", buffered: true });
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) {
      if (!one.interactionId) continue;
      seen.inp = Math.max(seen.inp, one.duration);
      seen.answered += 1;
    }
  }).observe({ type: "event", durationThreshold: 16, buffered: true });
})();"""
# What answers to a press and leaves the page where it is.
PRESSED = "summary:visible, .choice:visible, button[type=button]:not([data-print]):visible"
MOST_PRESSED = 6
KEYS = ("Tab", "Tab", "ArrowDown", "Tab")
PATIENCE_MILLISECONDS = 3000

Vitals = dict[str, float]


def read(page: Page, address: str) -> Vitals:
    """Open a page for the first time on a slow phone, press what can be pressed, type some keys.

    LCP and INP in milliseconds. The browser tells of no press that was answered within 16 ms:
    `answered` counts those it told of.
    """
    page.add_init_script(OBSERVE)
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW_4G)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    answer = page.goto(address)
    if answer is None or answer.status != 200:
        raise RuntimeError(f"{address}: {answer and answer.status}")
    page.wait_for_timeout(2000)
    touches = page.evaluate("navigator.maxTouchPoints > 0")
    for place in page.locator(PRESSED).all()[:MOST_PRESSED]:
        # What an earlier press has put away is not pressed.
        with suppress(Error):
            (place.tap if touches else place.click)(timeout=PATIENCE_MILLISECONDS)
        page.wait_for_timeout(150)
    for key in KEYS:
        page.keyboard.press(key)
        page.wait_for_timeout(150)
    page.wait_for_timeout(300)
    seen: Vitals = page.evaluate("() => window.seen")
    return seen


def middle(rounds: list[Vitals]) -> Vitals:
    """Give the median of each figure."""
    return {name: median(one[name] for one in rounds) for name in rounds[0]}
