"""What is measured: in interleaved rounds, so that the computer's other work hits all alike."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from statistics import median

from tests.bench.load import Answers, Ask, burst, once, sustained
from tests.bench.server import Server

READERS = 4
WRITERS = 8
BURST = 40
PHONES = 60

Asker = Callable[[], Ask]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How much is measured: rounds, a page's seconds in each, check-ins, a browser's visits."""

    rounds: int
    seconds: float
    check_ins: int
    visits: int


SIZES = {
    "full": Size(rounds=7, seconds=1.0, check_ins=1_000_000, visits=5),
    "small": Size(rounds=2, seconds=0.4, check_ins=70_000, visits=1),
}


@dataclass(slots=True)
class Series:
    """One page on one server: answers in a second for every round, and the seconds of each."""

    rates: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    bytes: int = 0
    queries: int = 0

    def add(self, found: Answers) -> None:
        """Add a round."""
        self.rates.append(found.per_second)
        self.seconds += found.seconds
        self.errors += found.errors

    def percentile(self, share: float) -> float:
        """Give the milliseconds within which so many of the answers came."""
        ordered = sorted(self.seconds)
        return 1000 * ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0


Figures = dict[tuple[str, str], Series]


def ratio(one: Series, other: Series) -> float:
    """Compare two pages: the median of what each round comes to."""
    pairs = zip(one.rates, other.rates, strict=True)
    return median(mine / theirs for mine, theirs in pairs if theirs)


def pages_of(server: Server) -> dict[str, Asker]:
    """List the pages that are read, by what the report calls them."""
    people = server.people
    turns = count()

    def teacher(path: str) -> Asker:
        return lambda: server.teacher(path)

    def any_student() -> Ask:
        return server.teacher(f"/students/{people['students'][next(turns) % PHONES]}")

    return {
        "bare view": teacher("/bench/bare"),
        "floor": teacher("/bench/floor"),
        "overview, unchanged": teacher("/overview"),
        "overview, all changed": teacher("/bench/cold"),
        "student page": any_student,
        "Today": lambda: server.phone(next(turns) % PHONES, "/practice/{}"),
        "review": teacher(f"/review/{people['ending']}"),
        "60 assessments": teacher("/bench/assessed"),
    }


def read(servers: Mapping[str, Server], size: Size) -> Figures:
    """Measure the pages of every server, one round after the other."""
    figures: Figures = {}
    pages = {name: pages_of(server) for name, server in servers.items()}
    for name, server in servers.items():
        for page, asker in pages[name].items():
            sustained(server.port, [asker] * READERS, min(1.0, size.seconds))
            series = figures[name, page] = Series()
            _count(server, asker, series)
    for number in range(size.rounds):
        # The same page of every server stands together: so close in time they compare best.
        for page in next(iter(pages.values())):
            for name, server in _in_turn(servers, number):
                found = sustained(server.port, [pages[name][page]] * READERS, size.seconds)
                figures[name, page].add(found)
    return figures


def write(servers: Mapping[str, Server], size: Size) -> Figures:
    """Measure check-ins: forty at once, and one after the other beside the bare row."""
    figures: Figures = {}
    turns = count()
    for name, server in servers.items():
        askers: dict[str, Asker] = {
            "bare insert": server.insert,
            "check-in": _next_phone(server, turns),
        }
        for page, asker in askers.items():
            sustained(server.port, [asker] * WRITERS, min(1.0, size.seconds))
            series = figures[name, page] = Series()
            _count(server, asker, series)
        figures[name, "40 bare inserts at once"] = Series()
        figures[name, "40 check-ins at once"] = Series()
    for number in range(size.rounds):
        for name, server in _in_turn(servers, number):
            asker = _next_phone(server, turns)
            found = burst(server.port, [server.insert] * BURST)
            figures[name, "40 bare inserts at once"].add(found)
            figures[name, "40 check-ins at once"].add(burst(server.port, [asker] * BURST))
        for page in ("bare insert", "check-in"):
            for name, server in _in_turn(servers, number):
                asker = server.insert if page == "bare insert" else _next_phone(server, turns)
                found = sustained(server.port, [asker] * WRITERS, size.seconds)
                figures[name, page].add(found)
    return figures


def _in_turn(servers: Mapping[str, Server], number: int) -> Iterator[tuple[str, Server]]:
    """Give the servers forwards and backwards by turns, so that none is always the last one."""
    found = list(servers.items())
    return iter(found if number % 2 == 0 else reversed(found))


def _next_phone(server: Server, turns: Iterator[int]) -> Asker:
    return lambda: server.check_in(next(turns) % PHONES)


def _count(server: Server, asker: Asker, series: Series) -> None:
    """Ask once more, for the queries and the bytes of an answer."""
    ask = asker()
    found = once(
        server.port,
        Ask(
            path=ask.path,
            method=ask.method,
            body=ask.body,
            headers=ask.headers | {"Count-Queries": "yes"},
        ),
    )
    series.errors += found.errors
    series.bytes = found.length
    series.queries = int(found.headers.get("Count-Queries", -1))
