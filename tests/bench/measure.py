"""What is measured: in interleaved rounds, so that the computer's other work hits all alike."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count
from math import comb
from statistics import median
from time import perf_counter

from tests.bench.load import Answers, Ask, burst, once, sustained
from tests.bench.server import Server

READERS = 4
WRITERS = 8
BURST = 40
PHONES = 60
# What is held against the same page of another studio sways most, and is asked so much oftener.
COMPARED = ("overview, unchanged", "Today", "check-in")
OFTENER = 3
# Of how many numbers the squares are summed, to see how quick the computer itself is just now.
SQUARES = 200_000

Asker = Callable[[], Ask]
# What is asked of each server, by what the report calls it.
Pages = Mapping[str, Mapping[str, Asker]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How much is measured: rounds, a page's seconds in each, check-ins, a browser's visits.

    What is compared with other studios, and forty at once, take OFTENER times as many rounds.
    """

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
    """One page on one server: answers in a second by the number of the round, seconds of each."""

    rates: dict[int, float] = field(default_factory=dict)
    seconds: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    bytes: int = 0
    queries: int = 0

    def add(self, number: int, found: Answers) -> None:
        """Add a round."""
        self.rates[number] = found.per_second
        self.seconds += found.seconds
        self.errors += found.errors

    def percentile(self, share: float) -> float:
        """Give the milliseconds within which so many of the answers came."""
        ordered = sorted(self.seconds)
        return 1000 * ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0


Figures = dict[tuple[str, str], Series]


@dataclass(frozen=True, slots=True)
class Measured:
    """The figures of some pages, and the milliseconds of a pause before each of the rounds.

    In a pause nothing is asked, and one process sums squares: where that takes twice as long, so
    does all that is absolute.
    """

    figures: Figures = field(default_factory=dict)
    paces: list[float] = field(default_factory=list)

    def pause(self) -> None:
        """See how quick the computer is."""
        began = perf_counter()
        sum(number * number for number in range(SQUARES))
        self.paces.append(1000 * (perf_counter() - began))


def ratio(one: Series, other: Series) -> float:
    """Compare two pages: the median of what each round that both were asked in comes to."""
    return median(_ratios(one, other))


def sway(one: Series, other: Series) -> tuple[float, float]:
    """Between what that median lies with a probability of at least 95 %.

    By order statistics: of n rounds, so many from each end that a median of the whole lies outside
    with the probability of as few heads in n throws of a coin. Under six rounds: the ends.
    """
    found = sorted(_ratios(one, other))
    cut = outside(len(found))
    return found[cut], found[-1 - cut]


def outside(rounds: int) -> int:
    """How many of so many rounds, sorted, lie below an interval of at least 95 %."""
    fewer, cut = 1, 0
    while fewer + comb(rounds, cut + 1) <= 0.025 * 2**rounds:
        cut += 1
        fewer += comb(rounds, cut)
    return cut


def _ratios(one: Series, other: Series) -> list[float]:
    return [
        rate / other.rates[number] for number, rate in one.rates.items() if other.rates.get(number)
    ]


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


def read(servers: Mapping[str, Server], size: Size) -> Measured:
    """Measure the pages of every server, one round after the other."""
    pages = {name: pages_of(server) for name, server in servers.items()}
    measured = _begun(servers, pages, READERS, size)
    for number in _rounds(servers, pages, READERS, size):
        measured.pause()
        # The same page of every server stands together: so close in time they compare best.
        for page in _asked_in(next(iter(pages.values())), number):
            for name, server in _in_turn(servers, number):
                found = sustained(server.port, [pages[name][page]] * READERS, size.seconds)
                measured.figures[name, page].add(number, found)
    return measured


def write(servers: Mapping[str, Server], size: Size) -> Measured:
    """Measure check-ins: forty at once, and one after the other beside the bare row."""
    turns = count()
    pages: dict[str, dict[str, Asker]] = {
        name: {"bare insert": server.insert, "check-in": _next_phone(server, turns)}
        for name, server in servers.items()
    }
    measured = _begun(servers, pages, WRITERS, size)
    _at_once(servers, pages, measured, size)
    for number in _rounds(servers, pages, WRITERS, size):
        measured.pause()
        for page in _asked_in(("bare insert", "check-in"), number):
            for name, server in _in_turn(servers, number):
                found = sustained(server.port, [pages[name][page]] * WRITERS, size.seconds)
                measured.figures[name, page].add(number, found)
    return measured


def _at_once(servers: Mapping[str, Server], pages: Pages, measured: Measured, size: Size) -> None:
    """Measure forty at the same moment, as often as what is compared.

    Of seven times the slowest alone would be the last twentieth of all answers.
    """
    for number in range(size.rounds * OFTENER):
        measured.pause()
        for name, server in _in_turn(servers, number):
            for page, asker in pages[name].items():
                series = measured.figures.setdefault((name, f"{BURST} {page}s at once"), Series())
                series.add(number, burst(server.port, [asker] * BURST))


def _begun(servers: Mapping[str, Server], pages: Pages, many: int, size: Size) -> Measured:
    """Let the servers know their pages, and count the queries and bytes of each."""
    measured = Measured()
    for name, server in servers.items():
        _warm(server, pages[name].values(), many, size)
        for page, asker in pages[name].items():
            series = measured.figures[name, page] = Series()
            _count(server, asker, series)
    return measured


def _rounds(servers: Mapping[str, Server], pages: Pages, many: int, size: Size) -> Iterator[int]:
    """Number the rounds, and start the servers anew after each third of them."""
    for number in range(size.rounds * OFTENER):
        if number and number % size.rounds == 0:
            for name, server in servers.items():
                server.start_anew()
                _warm(server, pages[name].values(), many, size)
        yield number


def _warm(server: Server, askers: Iterable[Asker], many: int, size: Size) -> None:
    """Ask for each page until the processes know it."""
    for asker in askers:
        sustained(server.port, [asker] * many, min(1.0, size.seconds))


def _asked_in(pages: Iterable[str], number: int) -> list[str]:
    """Say which pages are asked in a round: those compared in each, the others now and then."""
    return [page for page in pages if page in COMPARED or number % OFTENER == 0]


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
