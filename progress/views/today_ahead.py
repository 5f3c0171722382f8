"""Today on the days to come: what a kept page shows when it is opened on one of them."""

from collections.abc import Sequence
from typing import Any

from progress.models import CheckIn
from progress.queries.days import phone_days
from progress.queries.months import StudentMonth
from routines.ahead import days_ahead
from routines.models import Block
from routines.words import dynamics_on


def kept_days(
    month: StudentMonth, blocks: Sequence[Block], check_ins: Sequence[CheckIn]
) -> dict[str, Any]:
    """Write the facts of the day rule, and for each day to come whether it is off and how to play.

    Only days under the plan that the page shows are listed; for any other the page has to be
    opened with signal.
    """
    days = phone_days(month.student, month.day, blocks, check_ins)
    return {**days, "ahead": _ahead(month, blocks)}


def _ahead(month: StudentMonth, blocks: Sequence[Block]) -> dict[str, dict[str, Any]]:
    version, block = month.version, month.block
    if version is None or block is None or not month.is_running:
        return {}
    return {
        day.isoformat(): {
            "off": day.weekday() in block.weekdays_off,
            "dynamics": dynamics_on(version.plan.dynamics, block.month.turn_of(day)),
        }
        for day in days_ahead(blocks, version, month.day)
    }


def edition(month: StudentMonth) -> str:
    """Name what the kept pages were made from: they are fetched again only when it changes."""
    version = month.version.pk if month.version else 0
    last_day = month.block.last_day if month.block else ""
    filed = len(month.filed_days) + sum(map(len, month.revisions.values()))
    return f"{month.day}.{version}.{last_day}.{filed}"
