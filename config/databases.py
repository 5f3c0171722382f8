"""How Filar writes to its database: nothing acknowledged is lost, and writers wait their turn."""

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import dj_database_url
from django.core.exceptions import ImproperlyConfigured

SQLITE, POSTGRESQL = "config.sqlite", "config.postgresql"
# The libraries that the address parser names; ours stand on them.
PLAIN_SQLITE, PLAIN_POSTGRESQL = "django.db.backends.sqlite3", "django.db.backends.postgresql"

# SQLite 3.7.0 to 3.51.2 can corrupt a write-ahead log that two connections reset at once; fixed in
# 3.51.3 (release notes of SQLite 3.51.3).
WRITE_AHEAD_SINCE = (3, 51, 3)
PATIENCE_SECONDS = 20
# How long a connection serves one request after the other. Before each it is looked at: PostgreSQL
# may have been started anew, and another file may lie in the place of SQLite's after a restore.
LASTS_SECONDS = 600
LASTING: dict[str, Any] = {"CONN_MAX_AGE": LASTS_SECONDS, "CONN_HEALTH_CHECKS": True}
# How often PostgreSQL plans a statement anew before it keeps the plan.
PLANNED_BY_ITSELF = 2
HERE = frozenset({"", "localhost", "127.0.0.1", "::1"})


def journal_mode() -> str:
    """Name the journal that this computer's SQLite can be trusted with."""
    return "WAL" if sqlite3.sqlite_version_info >= WRITE_AHEAD_SINCE else "DELETE"


def sqlite_lasting() -> dict[str, Any]:
    """Settle whether connections to SQLite last.

    Whoever closes the last one of a file deletes its write-ahead log, by name: after a restore that
    would be the log of the file that lies there now. So with such a log none is kept that long.
    """
    return LASTING if journal_mode() == "DELETE" else {}


def sqlite_options() -> dict[str, Any]:
    """Settle how SQLite writes.

    A transaction takes its lock when it begins, so that two of them wait for each other instead of
    failing; FULL keeps the last commits through a power cut; what is deleted is written over.
    """
    return {
        "transaction_mode": "IMMEDIATE",
        "timeout": PATIENCE_SECONDS,
        "init_command": f"PRAGMA journal_mode={journal_mode()}; PRAGMA synchronous=FULL; "
        "PRAGMA secure_delete=ON;",
    }


def postgresql_options(host: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Settle how PostgreSQL writes; whatever the address itself says stays.

    Commits wait for the disk even where the server's default is not to, nobody waits for a lock for
    ever, and the way to another computer is encrypted. Days and numbers within a text are written
    as they are read again: ISO 8601, with all digits.
    """
    asked = (
        "-c synchronous_commit=on -c lock_timeout=20s -c idle_in_transaction_session_timeout=60s "
        "-c datestyle=ISO -c extra_float_digits=1"
    )
    options: dict[str, Any] = {
        "connect_timeout": 10,
        "application_name": "filar",
        "server_side_binding": True,
        "prepare_threshold": PLANNED_BY_ITSELF,
    }
    if host not in HERE and not host.startswith("/"):
        options["sslmode"] = "require"
    options |= given
    if options["prepare_threshold"] == "none":
        options["prepare_threshold"] = None
    elif not isinstance(options["prepare_threshold"], int):
        message = (
            f"DATABASE_URL: prepare_threshold={options['prepare_threshold']}: write none where a "
            "pooler knows nothing of prepared statements, or a number, or leave it out."
        )
        raise ImproperlyConfigured(message)
    options["options"] = f"{asked} {given.get('options', '')}".strip()
    return options


def read(address: str, folder: Path) -> dict[str, Any]:
    """Read DATABASE_URL; without it the studio lies in the given folder, in filar.sqlite3."""
    found: dict[str, Any] = {"ENGINE": PLAIN_SQLITE, "NAME": folder / "filar.sqlite3"}
    if address:
        try:
            found = dict(dj_database_url.parse(address))
        except (ValueError, KeyError):
            found = {}
    if found.get("ENGINE") == PLAIN_SQLITE:
        return {**found, **sqlite_lasting(), "ENGINE": SQLITE, "OPTIONS": sqlite_options()}
    if found.get("ENGINE") == PLAIN_POSTGRESQL:
        options = postgresql_options(found.get("HOST", ""), found.get("OPTIONS", {}))
        return {**found, **LASTING, "ENGINE": POSTGRESQL, "OPTIONS": options}
    message = "DATABASE_URL: write sqlite:///file or postgres://user@host/name."
    raise ImproperlyConfigured(message)
