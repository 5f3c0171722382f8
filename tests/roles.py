"""The table of docs/roles.md, the addresses of the site, and which of them are pages."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import tree

TABLE = tree.TOP / "docs" / "roles.md"
ROLES = (
    "anonymous",
    "student",
    "other student",
    "provisional phone",
    "ended phone",
    "teacher",
    "cover teacher",
    "other studio's teacher",
    "parent",
)
# The owners' answers stand in a table of their own, where they are not a teacher's.
OWNER = "owner"
# No pages: files, scripts and JSON, which a browser does not show as one.
NO_PAGES = {
    "progress:recorded_sound",
    "studio:healthz", "routines:notes", "routines:sound", "routines:calendar", "progress:table",
    "routines:roster_sample", "progress:worker", "progress:manifest", "progress:phone_state",
    "routines:preview",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """One named address, and the names of what it asks for."""

    name: str
    asks: tuple[str, ...]

    def path(self, objects: dict[str, str]) -> str:
        return reverse(self.name, kwargs={name: objects[name] for name in self.asks})


def addresses() -> list[Address]:
    """List the addresses of the site; a server may have others beside them."""
    return list(_walk(get_resolver("config.urls"), ""))


def _walk(resolver: URLResolver, prefix: str) -> Iterator[Address]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            inside = f"{prefix}{entry.namespace}:" if entry.namespace else prefix
            yield from _walk(entry, inside)
        elif isinstance(entry, URLPattern):
            assert entry.name, f"The address {entry.pattern} has no name."
            yield Address(name=prefix + entry.name, asks=tuple(entry.pattern.converters))


def table() -> dict[tuple[str, str], dict[str, int]]:
    rows: dict[tuple[str, str], dict[str, int]] = {}
    owners: dict[tuple[str, str], int] = {}
    for line in TABLE.read_text().splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        asked = (cells[0].strip("`"), cells[1] if len(cells) > 1 else "")
        if line.startswith("| `") and len(cells) == len(ROLES) + 2:
            rows[asked] = dict(zip(ROLES, map(int, cells[2:]), strict=True))
        elif line.startswith("| `") and len(cells) == 3:
            owners[asked] = int(cells[2])
    assert set(owners) <= set(rows)
    return {asked: row | {OWNER: owners.get(asked, row["teacher"])} for asked, row in rows.items()}


def pages_of(role: str) -> list[Address]:
    """List the pages that a role is shown."""
    rows = table()
    return [
        address
        for address in addresses()
        if address.name not in NO_PAGES and rows[address.name, "GET"][role] == 200
    ]
