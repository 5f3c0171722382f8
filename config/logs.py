"""How the log is written: a JSON line for each thing that happened, without a name or a secret.

What an error says may quote what somebody typed, and a path may carry a signed link, so neither is
written: of an error its kind and where it happened, of a path its name in the list of addresses.
"""

import json
import logging
import traceback
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

SAID = ("event", "who", "where", "method", "status", "error_id", "task")
TOP = Path(__file__).resolve().parent.parent
# Their words quote the path, the host or the header that was asked with.
QUOTING = ("django.request", "django.security", "django.server", "django.template")


class JsonLine(logging.Formatter):
    """Writes one record as one line; what would break a line is escaped."""

    def format(self, record: logging.LogRecord) -> str:
        """Name when, how bad, what, and whatever the record says of who, where and result."""
        line: dict[str, Any] = {
            "when": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "logger": record.name,
        }
        line |= {name: getattr(record, name) for name in SAID if hasattr(record, name)}
        if "event" not in line:
            is_quoting = record.name.startswith(QUOTING)
            line["event"] = "a notice of the framework" if is_quoting else record.getMessage()
        if record.exc_info and record.exc_info[1] is not None:
            line |= without_words(record.exc_info[1])
        return json.dumps(line, ensure_ascii=True, default=str)


def without_words(error: BaseException) -> dict[str, Any]:
    """Say what kind of error it was and by which lines it came, and nothing of what it said."""
    frames = traceback.extract_tb(error.__traceback__)
    at = [f"{_short(frame.filename)}:{frame.lineno} {frame.name}" for frame in frames]
    return {"error": f"{type(error).__module__}.{type(error).__qualname__}", "at": at[-12:]}


def _short(name: str) -> str:
    path = Path(name)
    if path.is_relative_to(TOP) and "site-packages" not in path.parts:
        return path.relative_to(TOP).as_posix()
    return "/".join(path.parts[-2:])


LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"json": {"()": "config.logs.JsonLine"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "json"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {
        "filar": {"level": "INFO"},
        # What they say is said by "filar" with who and where, and they would say it twice.
        "django": {"handlers": [], "level": "WARNING"},
        "django.request": {"level": "CRITICAL"},
        "django.security": {"level": "CRITICAL"},
    },
}
