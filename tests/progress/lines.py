"""The rows of one month as the line that `assess` reads, written straight from the columns.

Apart from the program's own reading of them on purpose: what a page says is held against this.
"""

import json
from datetime import date
from typing import Any

from django.core.management import call_command
from django_scopes import scopes_disabled

from progress.models import CheckIn, LessonRating
from routines.models import Block
from studio.models import Discomfort, Interruption

FOUR = ("attack", "sound", "evenness", "release")


def a_line(block: Block, *, notes: int) -> dict[str, Any]:
    """Write the month of a block whose top is given or was never named."""
    student, version = block.student, block.versions.order_by("from_day").last()
    assert version is not None
    top = version.top_note
    return {
        "id": student.public_id,
        "block": {
            "start": block.first_day.isoformat(),
            "days": (block.last_day - block.first_day).days + 1,
            "notes": notes,
            "hold": version.hold,
            "rest": version.rest,
            "tempo": version.tempo,
            "top_target": None if top is None else top - version.start_note,
            "child": student.child,
            "aim": block.aim or None,
            "dynamic": version.dynamics.startswith("by-"),
        },
        "checkins": [_check_in(row, notes) for row in _latest(block)],
        "lessons": [
            {"day": str(row.day), "filed": str(row.filed_on), "ratings": _four(row)}
            for row in LessonRating.objects.filter(block=block).order_by("day")
        ],
        "open": [
            *(
                {"kind": "discomfort", "from": str(row.day), "to": None}
                for row in Discomfort.objects.filter(student=student, closed_at=None)
            ),
            *(
                {
                    "kind": row.kind,
                    "from": str(row.first_day),
                    "to": str(row.last_day) if row.last_day else None,
                }
                for row in Interruption.objects.filter(student=student)
            ),
        ],
    }


def assessed(block: Block, day: date, folder: Any, *, notes: int) -> dict[str, Any]:
    """Ask the command about a month on a day."""
    file = folder / f"{block.public_id}-{day}.jsonl"
    with scopes_disabled():
        file.write_text(json.dumps(a_line(block, notes=notes)) + "\n")
    said = folder / "said.jsonl"
    with said.open("w") as out:
        call_command("assess", str(file), day=day.isoformat(), stdout=out)
    found: dict[str, Any] = json.loads(said.read_text())
    return found


def _latest(block: Block) -> list[CheckIn]:
    rows = {row.day: row for row in CheckIn.objects.filter(block=block).order_by("done_at")}
    return [rows[day] for day in sorted(rows)]


def _check_in(row: CheckIn, notes: int) -> dict[str, Any]:
    version = row.version
    return {
        "day": str(row.day),
        "filed": str(row.done_at.date()),
        "received": str(row.received_at.date()),
        "ratings": _four(row),
        "effort": row.effort,
        "minutes": None if row.seconds is None else row.seconds / 60,
        "completed": row.completed,
        "discomfort": row.discomfort or None,
        "high": None if row.high_note is None else row.high_note - version.start_note,
        "trouble": row.trouble,
        "planned": notes * version.hold * 60 / version.tempo,
    }


def _four(row: Any) -> list[int | None]:
    return [getattr(row, name) for name in FOUR]
