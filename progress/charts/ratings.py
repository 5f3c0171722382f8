"""The four ratings day by day: the student's, the teacher's, and the estimate with its band.

Conventions: heights on the scale 1 to 5. The band is where the estimate lies with a chance of 95 %,
cut off at the ends of the scale, because no rating lies beyond them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from progress.charts.drawing import (
    Figure,
    answer_axis,
    answer_words,
    day_axis,
    day_words,
    figure,
    line,
    marks,
)
from progress.engine.check_in import Criterion, Rating
from progress.engine.criteria import CriterionReading
from progress.engine.evidence import CheckIn, Lesson
from progress.engine.parameters import USUAL
from progress.engine.replay import is_late
from progress.engine.statistics import NORMAL_95, Interval
from progress.engine.trace import TraceDay
from progress.queries.charts import ChartedBlock


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedDay:
    """One criterion on one day; None where nothing was told, heard or worked out.

    `counts` is False for an answer written down too late to count; `is_readable` says whether the
    evidence sufficed for a reading by then.
    """

    day: date
    own: int | None
    counts: bool
    heard: int | None
    level: float
    band: Interval
    is_readable: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingsPanel:
    """One of the four, day by day."""

    criterion: Criterion
    days: tuple[RatedDay, ...]
    figure: Figure

    @property
    def told(self) -> int:
        """On how many days the student answered."""
        return sum(day.own is not None for day in self.days)

    @property
    def heard(self) -> int:
        """On how many days the teacher did."""
        return sum(day.heard is not None for day in self.days)

    @property
    def last(self) -> RatedDay:
        """The last day, where the estimate stands."""
        return self.days[-1]


@dataclass(frozen=True, slots=True, kw_only=True)
class RatingsChart:
    """The four side by side, and which kinds of marks are in them.

    `has_late`: answers written down too late to count; `is_read`: days with enough evidence.
    """

    panels: tuple[RatingsPanel, ...]
    has_own: bool
    has_late: bool
    has_heard: bool
    is_read: bool
    is_early: bool


def ratings_chart(charted: ChartedBlock) -> RatingsChart | None:
    """Draw the four of a block; None while neither the student nor the teacher has rated."""
    evidence = charted.evidence
    if evidence is None or not charted.trace:
        return None
    rated = {row.day: row for row in evidence.check_ins if row.is_rated}
    lessons = {row.day: row for row in evidence.lessons if row.is_rated}
    if not rated and not lessons:
        return None
    panels = tuple(
        _panel(charted, place, criterion, rated, lessons)
        for place, criterion in enumerate(Criterion)
    )
    days = [day for panel in panels for day in panel.days]
    return RatingsChart(
        panels=panels,
        has_own=any(day.counts and day.own is not None for day in days),
        has_late=any(not day.counts for day in days),
        has_heard=any(day.heard is not None for day in days),
        is_read=any(day.is_readable for day in days),
        is_early=not all(day.is_readable for day in days),
    )


def _panel(
    charted: ChartedBlock,
    place: int,
    criterion: Criterion,
    rated: dict[date, CheckIn],
    lessons: dict[date, Lesson],
) -> RatingsPanel:
    days = tuple(
        _rated_day(point, place, rated.get(point.day), lessons.get(point.day))
        for point in charted.trace
    )
    return RatingsPanel(criterion=criterion, days=days, figure=_figure(charted, days))


def _rated_day(
    point: TraceDay, place: int, check_in: CheckIn | None, lesson: Lesson | None
) -> RatedDay:
    reading = point.criteria[place]
    own = check_in.ratings[place] if check_in else None
    return RatedDay(
        day=point.day,
        own=own,
        counts=own is None or check_in is None or not is_late(check_in, USUAL),
        heard=lesson.ratings[place] if lesson else None,
        level=reading.level,
        band=_band(reading),
        is_readable=point.is_readable,
    )


def _band(reading: CriterionReading) -> Interval:
    reach = NORMAL_95 * reading.deviation
    low, high = float(min(Rating)), float(max(Rating))
    return Interval(
        low=min(max(low, reading.level - reach), high),
        high=max(min(high, reading.level + reach), low),
    )


def _figure(charted: ChartedBlock, days: Sequence[RatedDay]) -> Figure:
    block = charted.block
    last = max(block.first_day + timedelta(days=6), block.last_day)
    return figure(
        [*_estimate(days), *_own(days), _heard(days)],
        x=day_axis(block.first_day, last),
        y=answer_axis(),
        changes=charted.changes,
    )


def _estimate(days: Sequence[RatedDay]) -> list[Figure]:
    when = [day.day for day in days]
    levels = [round(day.level, 2) for day in days]
    read = [level if day.is_readable else None for day, level in zip(days, levels, strict=True)]
    told = [
        _("%(day)s: estimate %(level).1f, %(low).1f to %(high).1f")
        % {
            "day": day_words(day.day),
            "level": day.level,
            "low": day.band.low,
            "high": day.band.high,
        }
        for day in days
    ]
    low = line(when, [round(day.band.low, 2) for day in days], color="--slur", width=1)
    high = line(when, [round(day.band.high, 2) for day in days], color="--slur", width=1)
    return [
        low,
        high | {"fill": "tonexty", "fillcolor": "--slur-wash"},
        line(when, levels, color="--slur", width=2, dash="dash", hoverinfo="text", text=told),
        line(when, read, color="--slur", width=3),
    ]


def _own(days: Sequence[RatedDay]) -> Iterable[Figure]:
    for counts, symbol in ((True, "circle"), (False, "circle-open")):
        points = [
            (day.day, day.own, _said(_("%(day)s: %(answer)s of 10 notes"), day.day, day.own))
            for day in days
            if day.own is not None and day.counts is counts
        ]
        if points:
            yield marks(points, symbol=symbol, color="--ink", size=7)


def _heard(days: Sequence[RatedDay]) -> Figure:
    points = [
        (day.day, day.heard, _said(_("%(day)s, you heard %(answer)s of 10"), day.day, day.heard))
        for day in days
        if day.heard is not None
    ]
    return marks(points, symbol="diamond-open", color="--brass", size=13)


def _said(sentence: str, day: date, answer: int) -> str:
    return sentence % {"day": day_words(day), "answer": answer_words(answer)}
