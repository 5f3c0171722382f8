"""The part of docs/benchmarks.md about the browser, and the same figures as JSON."""

from dataclasses import asdict
from operator import attrgetter
from statistics import median
from typing import Any

from tests import vitals, weights
from tests.bench import bars
from tests.bench.bars import Bar
from tests.bench.browser import QUICK, Browser

ROLES = {"student": "a student", "parent": "a parent", "owner": "a teacher"}
MOST_MILLISECONDS = {"student": 1500, "owner": 2000}
STUDENTS_INP, STUDENTS_CLS = 100, 0.02
FIRST_PAGE_MILLISECONDS = 3000
NOT_MEASURED = (
    "## In the browser\n\nThere was no Chromium on this computer: nothing was measured.\n"
)


def bars_of(found: Browser) -> list[Bar]:
    """Hold what the browser met against what it should be."""
    return [
        *_bars_of_weights(found),
        Bar("the library of the charts, after “Show charts”",
            weights.MOST_OF_THE_LIBRARY / 1000, found.library / 1000,
            at_least=False, unit=" kB"),
        Bar("pages that fetch that library by themselves", 0,
            sum(weight.asked_for_library for weight in found.weights), at_least=False),
        *_bars_of_vitals(found),
        Bar("make demo: its first page, once it has been set up", FIRST_PAGE_MILLISECONDS,
            1000 * median(found.starts), at_least=False, unit=" ms"),
    ]  # fmt: skip


def _bars_of_weights(found: Browser) -> list[Bar]:
    bars = []
    for role, who in ROLES.items():
        mine = [weight for weight in found.weights if weight.role == role]
        budget = weights.BUDGETS[role]
        for what, words, most in (
            ("first", "first visit", budget.first),
            ("next", "next visit", budget.next),
            ("scripts", "JavaScript", budget.scripts),
        ):
            if what == "scripts" and role == "owner":
                continue
            one = max(mine, key=attrgetter(what))
            bars.append(
                Bar(f"{who}’s heaviest page, {words}: {one.page}", most / 1000,
                    getattr(one, what) / 1000, at_least=False, unit=" kB")
            )  # fmt: skip
    return bars


def _bars_of_vitals(found: Browser) -> list[Bar]:
    bars = []
    for words, (role, _) in QUICK.items():
        seen = found.vitals[words]
        bars.append(
            Bar(f"{words}: LCP", MOST_MILLISECONDS[role], seen["lcp"], at_least=False, unit=" ms")
        )
        if role == "student":
            bars += [
                Bar(f"{words}: INP", STUDENTS_INP, seen["inp"], at_least=False, unit=" ms"),
                Bar(f"{words}: CLS", STUDENTS_CLS, seen["cls"], at_least=False),
            ]
    return bars


def write(found: Browser | None) -> str:
    """Write the part of the report."""
    if found is None:
        return NOT_MEASURED
    head = HEAD.format(version=found.version, rounds=len(found.starts), slower=vitals.SLOWER)
    return "\n".join([head, bars.as_table(bars_of(found)), _vitals(found), _weights(found)])


def as_json(found: Browser | None) -> dict[str, Any] | None:
    """Give the same figures to a program."""
    if found is None:
        return None
    return {
        "version": found.version,
        "bars": bars.as_json(bars_of(found)),
        "vitals": {words: dict(seen) for words, seen in found.vitals.items()},
        "weights": [asdict(weight) for weight in found.weights],
        "library_bytes": found.library,
        "demo_starts_seconds": [round(seconds, 3) for seconds in found.starts],
        "errors": found.errors,
    }


def _vitals(found: Browser) -> str:
    lines = ["| page | LCP ms | INP ms | CLS | presses told of |", "|---|---|---|---|---|"]
    for words, seen in found.vitals.items():
        inp = f"{seen['inp']:.0f}" if seen["answered"] else "under 16"
        lines.append(
            f"| {words} | {seen['lcp']:.0f} | {inp} | {seen['cls']:.3f} | {seen['answered']:.0f} |"
        )
    return "\n".join(lines) + "\n"


def _weights(found: Browser) -> str:
    lines = [
        "| who | page | first visit | next visit | JavaScript |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {ROLES[one.role]} | `{one.page}` | {one.first:,} | {one.next:,} | {one.scripts:,} |"
        for one in found.weights
    ]
    return "\n".join(lines) + "\n"


HEAD = """## In the browser

Chromium {version} and the server of the studio with 24 months. **Bytes** are counted on the
connection, headers and all, compressed as served, without the worker of a student's phone: the
first visit with nothing kept, and the same page once more. **Times** are the median of {rounds}
first visits, each in a browser of its own, on slow 4G (1.6 Mbit/s down, 0.75 Mbit/s up, 150 ms
there and back) with a processor {slower} times as slow; INP is of real taps, clicks and keys, and
counts as under 16 ms where the browser tells of none that took longer.
"""
