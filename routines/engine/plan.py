"""What a teacher asks for: the plan of a block and the month it is played in.

Conventions: notes are written MIDI numbers, hold and rest whole counts, tempo counts a minute, days
dates. A plan that exists is valid. The limits are decisions of this program; the defaults (hold 8,
rest 8, tempo 60, mezzo-forte, a middle note down 13 half steps, four weeks, one day a week off)
are common practice, no published source.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from routines.engine import instruments, notes
from routines.engine.catalogue import Sentence, gettext_noop
from routines.engine.dynamics import MEZZO_FORTE, Dynamics
from routines.engine.instruments import Instrument, InstrumentError, Setup
from routines.engine.walk import WayBack

HOLD_LIMITS = (2, 32)
REST_LIMITS = (0, 32)
TEMPO_LIMITS = (20, 240)
LENGTH_LIMITS = (7, 62)
# Pauses over half a year, twice, fit in; nobody plays one block longer.
MOST_DAYS = 400
DEFAULT_HOLD = 8
DEFAULT_REST = 8
DEFAULT_TEMPO = 60
DEFAULT_LENGTH = 28
DAYS_IN_WEEK = 7
SUNDAY = 6


_OUT_OF_LIMITS = {
    "hold": gettext_noop("Hold %(given)s counts: choose %(lowest)s to %(highest)s."),
    "rest": gettext_noop("Rest %(given)s counts: choose %(lowest)s to %(highest)s."),
    "tempo": gettext_noop("Tempo %(given)s: choose %(lowest)s to %(highest)s."),
    "day": gettext_noop("Day %(given)s: choose %(lowest)s to %(highest)s."),
    "length_days": gettext_noop("Length %(given)s days: choose %(lowest)s to %(highest)s."),
}
_OFF_THE_CHART = {
    "start_note": gettext_noop(
        "Start note %(given)s: %(instrument)s goes from %(lowest)s to %(highest)s."
    ),
    "low_note": gettext_noop(
        "Low note %(given)s: %(instrument)s goes from %(lowest)s to %(highest)s."
    ),
    "top_note": gettext_noop(
        "Top note %(given)s: %(instrument)s goes from %(lowest)s to %(highest)s."
    ),
}


class PlanError(ValueError):
    """A plan that cannot be played; ``field`` is the name of the field to change."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockPlan:
    """What to play each day. ``top_note`` None is open: as high as the sound stays good."""

    instrument: str
    start_note: int
    low_note: int
    top_note: int | None = None
    back: WayBack = WayBack.RESTART
    hold: int = DEFAULT_HOLD
    rest: int = DEFAULT_REST
    tempo: int = DEFAULT_TEMPO
    dynamics: Dynamics = MEZZO_FORTE
    setup: Setup = instruments.USUAL

    def __post_init__(self) -> None:
        """Raise PlanError for the first field that is out of its limits."""
        within("hold", self.hold, HOLD_LIMITS)
        within("rest", self.rest, REST_LIMITS)
        within("tempo", self.tempo, TEMPO_LIMITS)
        for field in ("start_note", "low_note", "top_note"):
            self._check_on_chart(field)
        self._check_order()

    @property
    def player(self) -> Instrument:
        """The instrument itself."""
        try:
            return instruments.by_id(self.instrument)
        except InstrumentError as error:
            raise PlanError("instrument", str(error)) from error

    @property
    def highest_note(self) -> int:
        """The last note of the walk: the top note, or the end of the chart when open."""
        return self.player.highest if self.top_note is None else self.top_note

    def to(self, top_note: int) -> "BlockPlan":
        """Return the plan with a top note: how far an open one was played."""
        return replace(self, top_note=top_note)

    def _check_on_chart(self, field: str) -> None:
        note: int | None = getattr(self, field)
        if note is None:
            return
        try:
            instruments.chart_note(self.player, note, self.setup)
        except InstrumentError:
            span = instruments.ends(self.player, self.setup)
            raise PlanError(
                field,
                Sentence(
                    _OFF_THE_CHART[field],
                    given=_given(note),
                    instrument=Sentence(self.player.name),
                    lowest=span[0],
                    highest=span[1],
                ),
            ) from None

    def _check_order(self) -> None:
        start = notes.name(self.start_note)
        if self.low_note > self.start_note:
            given = notes.name(self.low_note)
            raise PlanError(
                "low_note",
                Sentence(
                    gettext_noop(
                        "Low note %(given)s: choose the start note %(start)s or a lower one."
                    ),
                    given=given,
                    start=start,
                ),
            )
        if self.top_note is not None and self.top_note < self.start_note:
            given = notes.name(self.top_note)
            raise PlanError(
                "top_note",
                Sentence(
                    gettext_noop(
                        "Top note %(given)s: choose the start note %(start)s or a higher one."
                    ),
                    given=given,
                    start=start,
                ),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Month:
    """When a block is played. ``weekdays_off`` counts Monday as 0; Sunday is off by default.

    ``extra_days`` is what pauses added at the end; the limits are those of ``length_days``.
    """

    first_day: date
    length_days: int = DEFAULT_LENGTH
    weekdays_off: frozenset[int] = frozenset({SUNDAY})
    extra_days: int = 0

    def __post_init__(self) -> None:
        """Raise PlanError for a length or days off that leave nothing to play."""
        within("length_days", self.length_days, LENGTH_LIMITS)
        if not self.weekdays_off <= set(range(DAYS_IN_WEEK)):
            given = ", ".join(str(day) for day in sorted(self.weekdays_off))
            raise PlanError(
                "weekdays_off",
                Sentence(
                    gettext_noop("Days off %(given)s: choose 0 (Monday) to 6 (Sunday)."),
                    given=given,
                ),
            )
        if len(self.weekdays_off) == DAYS_IN_WEEK:
            raise PlanError(
                "weekdays_off",
                Sentence(gettext_noop("All seven days off: leave at least one day to play.")),
            )

    @property
    def last_day(self) -> date:
        """The last day of the block, still in it."""
        return self.first_day + timedelta(days=self.length_days + self.extra_days - 1)

    @property
    def days_a_week(self) -> int:
        """How many days a week are for playing."""
        return DAYS_IN_WEEK - len(self.weekdays_off)

    def days(self) -> tuple[date, ...]:
        """Every day of the block, days off too."""
        count = self.length_days + self.extra_days
        return tuple(self.first_day + timedelta(days=n) for n in range(count))

    def due_days(self) -> tuple[date, ...]:
        """The days on which the block is to be played."""
        return tuple(day for day in self.days() if self.is_due(day))

    def is_due(self, day: date) -> bool:
        """Whether a day of the block is for playing; False outside the block."""
        return day in self and day.weekday() not in self.weekdays_off

    def day_number(self, day: date) -> int:
        """Count days from 1 on the first day, days off too; PlanError outside the block."""
        if day not in self:
            raise PlanError(
                "day",
                Sentence(
                    gettext_noop("Day %(given)s: choose a day from %(first)s to %(last)s."),
                    given=day,
                    first=self.first_day,
                    last=self.last_day,
                ),
            )
        return (day - self.first_day).days + 1

    def turn_of(self, day: date) -> int:
        """Count the days for playing up to a day, from 1: what alternates by day goes by these.

        A day off belongs to the turn before it, so that loud and soft never fall on two days
        running; PlanError outside the block.
        """
        self.day_number(day)
        return max(1, sum(due <= day for due in self.due_days()))

    def week_of(self, day: date) -> int:
        """Count weeks of seven days from 1; PlanError outside the block."""
        return (self.day_number(day) - 1) // DAYS_IN_WEEK + 1

    def __contains__(self, day: date) -> bool:
        """Whether a day lies in the block."""
        return self.first_day <= day <= self.last_day


def baseline(instrument: Instrument, setup: Setup = instruments.USUAL) -> BlockPlan:
    """Return the block a teacher assigns first: the instrument's own walk, open at the top."""
    return BlockPlan(
        instrument=instrument.id,
        start_note=instrument.start_note,
        low_note=instrument.low_note,
        setup=setup,
    )


def within(field: str, value: int, limits: tuple[int, int]) -> None:
    """Raise PlanError unless a number lies inside its limits, both included."""
    lowest, highest = limits
    if not lowest <= value <= highest:
        figures = {"given": value, "lowest": lowest, "highest": highest}
        raise PlanError(field, Sentence(_OUT_OF_LIMITS[field], **figures))


def _given(note: int) -> str:
    return notes.name(note) if notes.LOWEST <= note <= notes.HIGHEST else str(note)
