"""From what is known of a month to the days of its line."""

from datetime import date, timedelta

from progress.charts import DayState, LineDay
from progress.engine.check_in import Discomfort, Source
from progress.models import CheckIn
from progress.queries.months import StudentMonth
from studio.models import Interruption


def line_days(month: StudentMonth) -> list[LineDay]:
    """Say of every day of the block what is known on the day the month is looked at."""
    block = month.block
    if block is None:
        return []
    count = (block.last_day - block.first_day).days + 1
    return [_line_day(month, block.first_day + timedelta(days=number)) for number in range(count)]


def _line_day(month: StudentMonth, day: date) -> LineDay:
    check_in = month.check_ins.get(day)
    hurt = check_in is not None and check_in.discomfort in {Discomfort.MILD, Discomfort.PAIN}
    hurt = hurt or any(row.day == day for row in month.discomforts)
    sound = check_in.sound if check_in else None
    told, pause = month.not_todays.get(day), month.pause_on(day)
    return LineDay(
        day=day,
        state=_state(month, day, check_in, pause),
        sound=sound,
        hurt=hurt,
        why=pause.kind if pause else told.reason if told else "",
    )


def _state(
    month: StudentMonth, day: date, check_in: CheckIn | None, pause: Interruption | None
) -> DayState:
    if check_in is not None:
        by_teacher = check_in.source == Source.TEACHER
        return DayState.BY_TEACHER if by_teacher else DayState.FILED
    if pause is not None:
        return DayState.PAUSED
    if day in month.not_todays:
        return DayState.NOT_TODAY
    if month.block is not None and day.weekday() in month.block.weekdays_off:
        return DayState.DAY_OFF
    return DayState.EMPTY if day <= month.day else DayState.AHEAD
