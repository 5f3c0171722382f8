"""The demo's blocks: three months in a row for each student, ending around the day it is made."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from progress.demo.people import Person, Story
from routines.engine import instruments, variants
from routines.engine.plan import DEFAULT_LENGTH, BlockPlan, Month, baseline
from routines.engine.variants import Aim, Variant
from routines.models import Block, BlockVersion
from routines.services.assign import Order, assign
from studio.models import Student, User
from studio.words import Grade

AIMS = {
    Variant.ENDURANCE: Aim.ENDURANCE,
    Variant.RECOVERY: Aim.RECOVERY,
    Variant.COMPACT: Aim.CLARITY,
    Variant.CONTRAST: Aim.DYNAMICS,
}
LESSON_TIME = time(16, 40)
FASTER_FROM_DAY = 15
FASTER_TEMPO = 66
_A_WEEK = timedelta(days=7)
_LENGTH = timedelta(days=DEFAULT_LENGTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Where and when the demo is laid down: the teacher, the practice day, the moment, the zone."""

    teacher: User
    day: date
    moment: datetime
    zone: ZoneInfo

    def at(self, day: date, clock: time) -> datetime:
        """Say which moment a clock of the studio shows a time on a day."""
        return datetime.combine(day, clock, self.zone)


def assign_months(person: Person, student: Student, setting: Setting) -> list[Block]:
    """Assign a student's blocks one after the other, each at the lesson before it begins."""
    blocks: list[Block] = []
    first_days = list(_first_days(person, setting.day))
    # A month more than planned, for whoever goes on, repeats the last one.
    asked = (*person.months, *person.months[-1:])[: len(first_days)]
    for first_day, variant, plan in zip(
        first_days, asked, _plans(person, student, asked), strict=False
    ):
        order = Order(
            plans=[(student, plan)],
            month=Month(first_day=first_day, weekdays_off=person.days_off),
            by=setting.teacher,
            moment=_assigned_at(first_day, setting),
            aim=AIMS.get(variant),
            message=person.message if len(blocks) == len(person.months) - 1 else "",
        )
        blocks += assign(order).blocks
    if person.story is Story.FASTER:
        _quicken(blocks[-1])
    return blocks


def _first_days(person: Person, day: date) -> Iterator[date]:
    """Give the first days: the last block ends on a lesson day, the one before ends before it."""
    count = len(person.months)
    if person.weeks_left is None:
        yield day + timedelta(days=7 - day.weekday())
        return
    next_lesson = day + timedelta(days=(person.lesson_day - day.weekday()) % 7)
    ends = next_lesson + person.weeks_left * _A_WEEK
    for number in range(count):
        yield ends - (count - number) * _LENGTH + timedelta(days=1)
    if person.story is Story.GOES_ON:
        yield ends + timedelta(days=1)


def _assigned_at(first_day: date, setting: Setting) -> datetime:
    """Say when the teacher assigned a block: the day before, or the day before the demo's."""
    planned = setting.at(first_day - timedelta(days=1), LESSON_TIME)
    return min(planned, setting.moment - timedelta(days=1))


def _plans(person: Person, student: Student, asked: Iterable[Variant]) -> Iterator[BlockPlan]:
    """Change the instrument's first plan into each month's, one after the other."""
    player = instruments.by_id(person.instrument)
    plan = replace(
        baseline(player, person.setup),
        tempo=person.tempo,
        back=person.back,
        top_note=_top(student, player),
    )
    for variant in asked:
        plan = variants.apply(variant, plan)
        yield plan


def _top(student: Student, player: instruments.Instrument) -> int | None:
    """Keep beginners inside their range; everybody else goes as high as the sound stays good."""
    if student.grade != Grade.BEGINNER:
        return None
    return max(player.beginner.high, player.start_note)


def _quicken(block: Block) -> None:
    """Change the tempo in the middle of a block, which makes a version from that day on."""
    version = BlockVersion.objects.get(block=block)
    version.pk = None
    version.from_day = block.first_day + timedelta(days=FASTER_FROM_DAY - 1)
    version.tempo = FASTER_TEMPO
    version.made_at += timedelta(days=FASTER_FROM_DAY - 1)
    version.save(force_insert=True)
