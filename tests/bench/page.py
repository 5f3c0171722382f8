"""docs/benchmarks.md, and the same figures as JSON; the part about the browser: browser_page.py."""

import os
import platform
import re
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from statistics import median
from typing import Any

import django

from config.gunicorn import threads
from tests.bench import bars, browser_page
from tests.bench.bars import Bar
from tests.bench.browser import Browser
from tests.bench.measure import (
    BURST,
    COMPARED,
    OFTENER,
    READERS,
    SQUARES,
    WRITERS,
    Figures,
    Measured,
    Series,
    Size,
    ratio,
    sway,
)
from tests.bench.server import WORKERS

MAIN, OLD, MANY = "24 months", "1 month", "a million"


@dataclass(frozen=True, slots=True)
class Engine:
    """What was measured of one database, a worker's memory in MB, and who was there."""

    reading: Measured
    writing: Measured
    memory: float
    people: Mapping[str, Mapping[str, Any]]
    # A browser looks at the pages of one database alone.
    browser: Browser | None = None

    @property
    def figures(self) -> Figures:
        """Find all figures, by studio and page."""
        return self.reading.figures | self.writing.figures

    @property
    def errors(self) -> list[str]:
        """What was answered wrongly."""
        found = [error for series in self.figures.values() for error in series.errors]
        return found + (self.browser.errors if self.browser else [])

    def of(self, page: str, studio: str = MAIN) -> Series:
        """Find a page's figures."""
        return self.figures[studio, page]


def bars_of(name: str, engine: Engine) -> list[Bar]:
    """Hold the figures of one database against what they should be."""
    found = [
        Bar("overview, unchanged : floor", 0.5 if name == "SQLite" else 0.3,
            ratio(engine.of("overview, unchanged"), engine.of("floor"))),
        Bar("overview, all changed : floor", 0.05,
            ratio(engine.of("overview, all changed"), engine.of("floor"))),
        Bar("floor : bare view", 0.05, ratio(engine.of("floor"), engine.of("bare view"))),
        Bar("overview, unchanged, p95", 150, engine.of("overview, unchanged").percentile(0.95),
            at_least=False, unit=" ms"),
    ]  # fmt: skip
    for words, studio, other in (("a million rows : alone", MANY, MAIN),
                                 ("24 months : 1 month", MAIN, OLD)):  # fmt: skip
        for page in COMPARED:
            pair = engine.of(page, studio), engine.of(page, other)
            found.append(Bar(f"{page}: {words}", 0.9, ratio(*pair), sway=sway(*pair)))
    queries = {"overview, unchanged": 12, "overview, all changed": 12, "Today": 6, "check-in": 8}
    found += [
        Bar(f"{page}: queries", most, engine.of(page).queries, at_least=False)
        for page, most in queries.items()
    ]
    at_once = engine.of(f"{BURST} check-ins at once")
    found += [
        Bar(f"{BURST} check-ins at once: errors", 0, len(at_once.errors), at_least=False),
        Bar(f"{BURST} check-ins at once, p95", 250, at_once.percentile(0.95), at_least=False,
            unit=" ms"),
        Bar("check-in : bare insert", 0.6, ratio(engine.of("check-in"), engine.of("bare insert"))),
        Bar("60 assessments, in renderings of the overview", 15,
            ratio(engine.of("floor"), engine.of("60 assessments")), at_least=False),
        Bar("a worker's memory", 150, engine.memory, at_least=False, unit=" MB"),
    ]  # fmt: skip
    return found


def write(found: Mapping[str, Engine], *, size: Size, seed: int) -> str:
    """Write the report."""
    parts = [HEAD.format(**_setting(), seed=seed, rounds=size.rounds, seconds=size.seconds,
                         readers=READERS, writers=WRITERS, workers=WORKERS,
                         threads=threads, compared=size.rounds * OFTENER,
                         squares=SQUARES)]  # fmt: skip
    for name, engine in found.items():
        rows = {studio: people["check_ins"] for studio, people in engine.people.items()}
        listed = "; ".join(f"{studio}: {number:,} check-ins" for studio, number in rows.items())
        parts += [
            f"## {name}\n",
            f"{listed}. {_pace(engine)}\n",
            bars.as_table(bars_of(name, engine)),
            _table(engine),
        ]
    parts.append(browser_page.write(_browser(found)))
    return "\n".join(parts)


def _pace(engine: Engine) -> str:
    """Say how quick the computer was meanwhile."""
    read, written = (
        f"{median(part.paces):.1f} ms ({min(part.paces):.1f} to {max(part.paces):.1f})"
        for part in (engine.reading, engine.writing)
    )
    return (
        f"The sum of squares: {read} while pages were read,\n{written} while check-ins were sent."
    )


def _browser(found: Mapping[str, Engine]) -> Browser | None:
    return next((engine.browser for engine in found.values() if engine.browser), None)


def as_json(found: Mapping[str, Engine], *, seed: int) -> dict[str, Any]:
    """Give the same figures to a program."""
    return {
        "setting": _setting() | {"seed": seed},
        "browser": browser_page.as_json(_browser(found)),
        "databases": {
            name: {
                "memory_megabytes": round(engine.memory, 1),
                "sum_of_squares_ms": {
                    name: [round(one, 2) for one in part.paces]
                    for name, part in (("reading", engine.reading), ("writing", engine.writing))
                },
                "bars": bars.as_json(bars_of(name, engine)),
                "pages": [
                    {"studio": studio, "page": page} | _row(series)
                    for (studio, page), series in engine.figures.items()
                ],
            }
            for name, engine in found.items()
        },
    }


def _row(series: Series) -> dict[str, float]:
    return {
        "per_second": round(median(series.rates.values()), 1),
        "p50_ms": round(series.percentile(0.5), 2),
        "p95_ms": round(series.percentile(0.95), 2),
        "queries": series.queries,
        "bytes": series.bytes,
        "errors": len(series.errors),
    }


def _table(engine: Engine) -> str:
    lines = [
        "| studio | page | to the bare view | p50 ms | p95 ms | queries | bytes (gzip) |",
        "|---|---|---|---|---|---|---|",
    ]
    for (studio, page), series in engine.figures.items():
        bare = engine.of(
            "bare insert" if "check-in" in page or "insert" in page else "bare view", studio
        )
        one, row = ratio(series, bare), _row(series)
        lines.append(
            f"| {studio} | {page} | {one:.3f} | {row['p50_ms']:.1f} | {row['p95_ms']:.1f} "
            f"| {series.queries} | {series.bytes:,} |"
        )
    return "\n".join(lines) + "\n"


def _setting() -> dict[str, Any]:
    processors = Path("/proc/cpuinfo")
    about = processors.read_text() if processors.exists() else ""
    models = re.findall(r"^model name\s*: (.+)$", about, re.M) or ["unknown"]
    return {
        "day": f"{datetime.now(UTC):%d %B %Y}",
        "system": f"{platform.system()} {platform.machine()}, {os.cpu_count()} x {models[0]}",
        "python": platform.python_version(),
        "django": django.get_version(),
        "gunicorn": version("gunicorn"),
        "sqlite": sqlite3.sqlite_version,
    }


HEAD = """# How quick it is

Written by `make bench`; do not edit by hand. {day}. {system}; Python {python}, Django
{django}, gunicorn {gunicorn}, SQLite {sqlite}. Seed {seed}.

Absolute figures are those of one computer with other work on it: how quick it was meanwhile is told
by how long one process took, before each round, to sum {squares:,} squares. **Ratios** compare what
was measured side by side in the same run: the median over {rounds} interleaved rounds of {seconds}
s a page; of a page held against itself in another studio, over {compared}, and in brackets between
what that median lies with a probability of 95 %. As two starts of the same server differ by up to
6 %, all are started anew twice meanwhile. {readers} askers ({writers} for writing) on the
same computer ask, one answer after the other, each on a connection of its own as behind a reverse
proxy, of gunicorn with {workers} workers of {threads} threads. All pages pass the same
middleware and sign-in. The **bare view** answers with one word; the **floor** renders the
overview's own template from a context that lies in memory; the **bare insert** writes a check-in's
row and does nothing else. "All changed" is the overview of a process that knows nothing yet. The
studio has 60 students; it is measured alone with 24 months of practice and with one, and with 24
months among the studios of others.
"""
