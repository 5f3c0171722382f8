"""The demo's practice: what one student reports day by day, and what the teacher hears.

Conventions: ratings and efforts are those of a check-in; `progress` runs from 0 on a student's
first day to 1 on the last. Everything is drawn from one seeded generator.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from functools import cache
from random import Random
from uuid import UUID

from progress.demo.months import Setting
from progress.demo.people import (
    WORDS_AFTER_A_LESSON,
    WORDS_TO_THE_TEACHER,
    Character,
    Person,
    Story,
)
from progress.engine.check_in import Discomfort, Register, Source, Stopped
from progress.models import RATINGS, CheckIn, LessonRating
from routines.engine import timeline
from routines.engine.plan import BlockPlan
from routines.models import Block
from routines.queries import version_on
from studio.models import Grant, Student
from studio.words import Grade

QUIET_SINCE_DAYS = 9
HURT_DAYS_AGO = 1
HEALED_DAYS_AGO = 40
SURE_DAYS_AGO = (3, 4)  # nobody but the quiet one is silent for a whole week
_NOTES_ABOVE = {Grade.BEGINNER: 0, Grade.INTERMEDIATE: 1, Grade.OPEN: 4}
_LESS = {"attack": -0.2, "sound": 0.1, "evenness": 0.0, "release": -0.1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Diary:
    """One student's three months: who it is, the blocks, the phone, and the days without play."""

    person: Person
    student: Student
    blocks: list[Block]
    phone: Grant | None
    setting: Setting
    random: Random
    pauses: set[date] = field(default_factory=set)

    @property
    def character(self) -> Character:
        """How this student practises."""
        return self.person.character

    def progress(self, day: date) -> float:
        """Say how far along the three months a day is, from 0 to 1."""
        begun = self.blocks[0].first_day
        whole = max((self.setting.day - begun).days, 1)
        return (day - begun).days / whole

    def days(self) -> Iterator[tuple[date, Block]]:
        """List every day up to the demo's own with the block it belongs to."""
        for block in self.blocks:
            for day in block.month.days():
                if day <= min(block.last_day, self.setting.day):
                    yield day, block


def check_ins(diary: Diary) -> list[CheckIn]:
    """Write down what a student reported, in the evenings that have been."""
    rows = []
    for day, block in diary.days():
        if not _reports(diary, day, block):
            continue
        row = _check_in(diary, day, block)
        if row.received_at > diary.setting.moment:
            continue
        rows.append(row)
        if diary.random.random() < 0.015 and row.discomfort == Discomfort.NONE:
            rows.append(_revised(diary, row))
    return rows


def lesson_ratings(diary: Diary) -> list[LessonRating]:
    """Write down what the teacher heard at the lessons."""
    rows = []
    for day, block in diary.days():
        lesson = day.weekday() == diary.person.lesson_day and day < diary.setting.day
        if not lesson or day in diary.pauses or diary.random.random() > diary.character.heard:
            continue
        note = diary.random.choice(WORDS_AFTER_A_LESSON) if diary.random.random() < 0.3 else ""
        rows.append(
            LessonRating(
                student=diary.student,
                block=block,
                by=diary.setting.teacher,
                day=day,
                filed_on=day,
                note=note,
                **_ratings(diary, day, flatters=0.0, spread=0.35),
            )
        )
    return rows


def silent_days(diary: Diary, filed: list[CheckIn]) -> list[date]:
    """List the due days up to yesterday without a check-in and without another story."""
    told = {row.day for row in filed}
    return [
        day
        for day, block in diary.days()
        if block.month.is_due(day) and day < diary.setting.day and day not in told | diary.pauses
        and not (diary.person.story is Story.QUIET and _days_ago(diary, day) < QUIET_SINCE_DAYS)
    ]  # fmt: skip


def _days_ago(diary: Diary, day: date) -> int:
    return (diary.setting.day - day).days


def _reports(diary: Diary, day: date, block: Block) -> bool:
    """Decide whether there is a check-in for a day."""
    ago, story = _days_ago(diary, day), diary.person.story
    if story is Story.QUIET and ago <= QUIET_SINCE_DAYS:
        return ago == QUIET_SINCE_DAYS
    if _hurts(diary, day):
        return True
    if day in diary.pauses or not block.month.is_due(day):
        return False
    return ago in SURE_DAYS_AGO or diary.random.random() < diary.character.diligence


def _hurts(diary: Diary, day: date) -> bool:
    when = {Story.HURT: HURT_DAYS_AGO, Story.HEALED: HEALED_DAYS_AGO}.get(diary.person.story)
    return when is not None and _days_ago(diary, day) == when


def _check_in(diary: Diary, day: date, block: Block) -> CheckIn:
    random, version = diary.random, version_on(block, day)
    by_teacher = diary.phone is None
    done = _in_the_evening(diary, day)
    share = random.choices((1.0, 0.5, None), (88, 7, 5))[0]
    top = _last_good_note(diary, day, version.plan)
    touched = random.random() < 0.65
    return CheckIn(
        student=diary.student,
        block=block,
        version=version,
        grant=diary.phone,
        key=_key(random),
        day=day,
        done_at=done,
        received_at=_arrival(random, done),
        source=Source.TEACHER if by_teacher else Source.PHONE,
        zone="" if by_teacher else str(diary.setting.zone),
        utc_offset_minutes=None if by_teacher else _offset_minutes(diary, done),
        completed=share,
        seconds=None if by_teacher or share is None else round(_seconds(version.plan, top) * share),
        high_note=top if touched else None,
        stopped_because=random.choices(list(Stopped), (6, 3, 1))[0] if touched else "",
        trouble=[_trouble(random)] if random.random() < 0.22 else None,
        words=random.choice(WORDS_TO_THE_TEACHER) if random.random() < 0.05 else "",
        effort=_effort(diary, day),
        **_ratings(diary, day, flatters=diary.character.flatters, spread=0.6),
        **_hurt(diary, day),
    )


def _hurt(diary: Diary, day: date) -> dict[str, str]:
    if not _hurts(diary, day):
        return {"discomfort": Discomfort.NONE}
    bad = diary.person.story is Story.HURT
    how_much, place = (Discomfort.PAIN, "lips") if bad else (Discomfort.MILD, "jaw")
    return {"discomfort": how_much, "place": place}


def _ratings(diary: Diary, day: date, *, flatters: float, spread: float) -> dict[str, int | None]:
    """Draw the four answers round what would be heard that day; a few stay unanswered."""
    character, random = diary.character, diary.random
    heard = character.level + character.gain * diary.progress(day) + flatters
    if _hurts(diary, day):
        heard -= 1.4
    answers: dict[str, int | None] = {}
    for name in RATINGS:
        drawn = round(random.gauss(heard + _LESS[name], spread))
        answers[name] = None if random.random() < 0.01 else min(max(drawn, 1), 5)
    return answers


def _effort(diary: Diary, day: date) -> int | None:
    character, random = diary.character, diary.random
    middle = character.effort + character.strain * diary.progress(day)
    if _hurts(diary, day):
        middle += 3
    step = round(random.gauss(middle, 1.3) / 2)
    return None if random.random() < 0.01 else 2 * min(max(step, 1), 5)


def _last_good_note(diary: Diary, day: date, plan: BlockPlan) -> int:
    """Draw the highest good note: round the end of the range, higher as the months go on."""
    player, grade = plan.player, Grade(diary.student.grade)
    usual = player.beginner.high if grade is Grade.BEGINNER else player.intermediate.high
    grown = diary.character.gain * diary.progress(day)
    drawn = round(usual + _NOTES_ABOVE[grade] + grown + diary.random.gauss(-1, 1.2))
    return min(max(drawn, plan.start_note), plan.highest_note)


@cache
def _seconds(plan: BlockPlan, top: int) -> float:
    """Work out how long the session lasts up to the note it stopped on."""
    return timeline.build(replace(plan, top_note=top)).totals.session_seconds


def _in_the_evening(diary: Diary, day: date) -> datetime:
    minutes = diary.random.randrange(16 * 60 + 20, 21 * 60)
    clock = time(minutes // 60, minutes % 60, diary.random.randrange(60))
    return diary.setting.at(day, clock)


def _arrival(random: Random, done: datetime) -> datetime:
    """Say when a check-in arrived: at once, or the next morning where there was no signal."""
    wait = timedelta(hours=13) if random.random() < 0.05 else timedelta(seconds=2)
    return done + wait + timedelta(seconds=random.randrange(60))


def _offset_minutes(diary: Diary, done: datetime) -> int:
    offset = done.astimezone(diary.setting.zone).utcoffset() or timedelta()
    return int(offset.total_seconds() // 60)


def _trouble(random: Random) -> str:
    return random.choices(list(Register), (3, 1, 6))[0].value


def _revised(diary: Diary, row: CheckIn) -> CheckIn:
    """Answer a day once more, a little later, with one answer thought over."""
    later = timedelta(minutes=diary.random.randrange(4, 30))
    values = {
        column.attname: getattr(row, column.attname)
        for column in CheckIn._meta.concrete_fields  # noqa: SLF001 - the documented model API
        if column.name not in {"id", "public_id"}
    }
    values |= {
        "key": _key(diary.random),
        "done_at": row.done_at + later,
        "received_at": row.received_at + later,
        "sound": max((row.sound or 3) - 1, 1),
    }
    return CheckIn(**values)


def _key(random: Random) -> UUID:
    return UUID(int=random.getrandbits(128), version=4)
