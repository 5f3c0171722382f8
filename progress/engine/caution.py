"""When to ease off: what is open, what hurt, and a week far above the ones before.

Conventions: pain and discomfort are counted to the day asked, load to the last day of the block
reached. None of this is a measure of injury; it is a prompt to talk.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from statistics import fmean, median

from progress.engine.check_in import Discomfort
from progress.engine.evidence import CheckIn, OpenKind
from progress.engine.parameters import Parameters
from progress.engine.reasons import Code, Reason
from progress.engine.replay import Known, in_pain

DAYS_IN_WEEK = 7


def ease_off(known: Known, reached: date, parameters: Parameters) -> Reason | None:
    """Return the gravest reason to ease off, None without one.

    ``reached`` is the last day of the block that the replay reached.
    """
    if any(thing.kind is OpenKind.DISCOMFORT for thing in known.open_things):
        return Reason(Code.OPEN, len(known.open_things))
    if in_pain(known.pains, known.day, parameters):
        return Reason(Code.PAIN, (known.day - max(known.pains)).days)
    rows = [row for row in known.check_ins if row.day >= known.block.start]
    hurt = sum(
        row.discomfort in {Discomfort.MILD, Discomfort.PAIN}
        for row in rows[-parameters.mild_among :]
    )
    if hurt >= parameters.mild_count:
        return Reason(Code.MILD, hurt)
    played = [row for row in rows if row.day <= reached]
    return _overload(played, known.block.start, reached, parameters)


def _overload(
    rows: Sequence[CheckIn], start: date, reached: date, parameters: Parameters
) -> Reason | None:
    efforts = [row.effort for row in rows[-parameters.mild_among :] if row.effort is not None]
    if not efforts or median(efforts) < parameters.overload_effort:
        return None
    weeks = _weekly_loads(rows, start, reached)[: parameters.overload_weeks + 1]
    if len(weeks) <= parameters.overload_least_weeks:
        return None
    this, before = weeks[0], fmean(weeks[1:])
    if this <= parameters.overload_ratio * before or before <= 0:
        return None
    return Reason(Code.OVERLOAD, this / before)


def _weekly_loads(rows: Sequence[CheckIn], start: date, reached: date) -> list[float]:
    """Add up load in windows of seven days back from the last day, those wholly in the block."""
    complete = ((reached - start).days + 1) // DAYS_IN_WEEK
    loads = [0.0] * complete
    for row in rows:
        week = (reached - row.day) // timedelta(days=DAYS_IN_WEEK)
        if week < complete:
            loads[week] += row.load
    return loads
