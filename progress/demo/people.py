"""The demo's scenario as plain data: one studio, one teacher, twenty-four students.

Everybody here is invented. Weekdays count from 0 on Monday; ratings are the 1 to 5 of a check-in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from routines.engine.instruments import USUAL, Clef, Setup
from routines.engine.plan import DEFAULT_TEMPO, SUNDAY
from routines.engine.variants import Variant
from routines.engine.walk import WayBack
from studio.words import Grade

STUDIO_PUBLIC_ID = "f11a0de300000001"  # the demo is known by it, whatever it is called later
STUDIO = {
    "name": "Mill Lane Brass",
    "time_zone": "Europe/London",
    "note_naming": "letters",
}
TEACHER = {
    "name": "Hanne Aldworth",
    "email": "hanne@mill-lane.example.org",
    "password": "long notes before breakfast",
}
SHOWN_FIRST = "Nor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Character:
    """How somebody practises and how they hear themselves.

    `level` is what a teacher would hear at the start (1 to 5) and `gain` how much that moves over
    the three months; `flatters` is what the student adds to it. `diligence` is the share of due
    days with a check-in.
    """

    diligence: float = 0.76
    level: float = 3.2
    gain: float = 0.5
    flatters: float = 0.1
    effort: float = 5.4
    strain: float = 0.0
    heard: float = 0.8


STEADY = Character()
RISING = Character(diligence=0.84, level=2.3, gain=1.9)
READY = Character(diligence=0.88, level=3.7, gain=1.0, effort=4.6)
MODEST = Character(diligence=0.78, level=3.9, gain=0.4, flatters=-0.9)
FLATTERING = Character(diligence=0.8, level=2.4, gain=0.1, flatters=1.9, effort=3.4)
TIRED = Character(diligence=0.72, level=3.6, gain=-1.0, effort=6.2, strain=2.6)
BUSY = Character(diligence=0.46, level=3.1, gain=0.2, heard=0.25)
YOUNG = Character(diligence=0.7, level=2.4, gain=0.9, flatters=0.6)


class Story(StrEnum):
    """What happens to one student beside the usual."""

    NONE = ""
    HURT = "hurt"
    HEALED = "healed"
    QUIET = "quiet"
    ILL = "ill"
    AWAY = "away"
    BRACES = "braces"
    LIGHT = "light"
    NEW_PHONE = "new phone"
    LOST_PHONE = "lost phone"
    TWO_PHONES = "two phones"
    ON_PAPER = "on paper"
    GOES_ON = "goes on"
    FASTER = "faster"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One student: who they are, what they were asked in turn, and what comes of it.

    `months` are the variants of the blocks in a row. The last block ends at the lesson
    `weeks_left` weeks after the next one; None begins the only block next Monday.
    """

    name: str
    instrument: str
    grade: Grade
    group: str
    lesson_day: int
    months: Sequence[Variant]
    weeks_left: int | None = 0
    character: Character = STEADY
    story: Story = Story.NONE
    child: bool = True
    setup: Setup = USUAL
    note_naming: str = ""
    tempo: int = DEFAULT_TEMPO
    back: WayBack = WayBack.RESTART
    days_off: frozenset[int] = frozenset({SUNDAY})
    message: str = ""


_B, _E, _R = Variant.BASELINE, Variant.ENDURANCE, Variant.RECOVERY
_C, _D = Variant.COMPACT, Variant.CONTRAST
_FIRST, _MIDDLE, _OPEN = Grade.BEGINNER, Grade.INTERMEDIATE, Grade.OPEN
_SCHOOL, _BAND, _HOME = "Quay Street School", "Town Band", "At home"
_MON, _TUE, _WED, _THU, _FRI, _SAT = range(6)

PEOPLE: Sequence[Person] = (
    Person(
        name="Nor", instrument="trumpet_bb", grade=_MIDDLE, group=_SCHOOL, lesson_day=_MON,
        months=(_B, _B, _E), weeks_left=1, character=RISING,
        message="Twelve counts are long. Breathe low, start softly, and never squeeze for the end.",
    ),
    Person(
        name="Ada", instrument="cornet_bb", grade=_FIRST, group=_SCHOOL, lesson_day=_MON,
        months=(_B, _B, _B), character=YOUNG, tempo=72,
        message="The same again: I like where this is going.",
    ),
    Person(
        name="Bertil", instrument="trombone_tenor", grade=_MIDDLE, group=_SCHOOL, lesson_day=_MON,
        months=(_B, _E, _B), weeks_left=2, note_naming="german", story=Story.AWAY,
    ),
    Person(
        name="Caja", instrument="horn_f", grade=_MIDDLE, group=_SCHOOL, lesson_day=_TUE,
        months=(_B, _R, _C), character=FLATTERING, message="Listen for the very end of each note.",
    ),
    Person(
        name="Dov", instrument="euphonium_bc", grade=_FIRST, group=_SCHOOL, lesson_day=_TUE,
        months=(_B, _B, _R), weeks_left=1, character=YOUNG, setup=Setup(four_valves=False),
    ),
    Person(
        name="Edith", instrument="trumpet_c", grade=_OPEN, group=_HOME, lesson_day=_TUE,
        months=(_B, _E, _D), character=READY, child=False, story=Story.TWO_PHONES,
        message="Loud days are full, not hard. Soft days keep the same air.",
    ),
    Person(
        name="Farid", instrument="tuba_bbb", grade=_MIDDLE, group=_BAND, lesson_day=_TUE,
        months=(_B, _B, _E), weeks_left=3, character=TIRED, tempo=72, story=Story.LIGHT,
    ),
    Person(
        name="Greta", instrument="flugelhorn_bb", grade=_OPEN, group=_BAND, lesson_day=_WED,
        months=(_B, _R, _B), weeks_left=1, child=False, character=MODEST, note_naming="german",
        back=WayBack.STEP,
    ),
    Person(
        name="Hugo", instrument="trumpet_bb", grade=_MIDDLE, group=_SCHOOL, lesson_day=_WED,
        months=(_B, _B, _E), weeks_left=1, story=Story.HURT,
        message="Stop on the way up while it still sounds easy.",
    ),
    Person(
        name="Ilse", instrument="horn_double_f_bb", grade=_OPEN, group=_HOME, lesson_day=_WED,
        months=(_B, _E, _E), child=False, character=READY, story=Story.GOES_ON,
    ),
    Person(
        name="Jonas", instrument="trombone_tenor_tc", grade=_FIRST, group=_BAND, lesson_day=_WED,
        months=(_B, _B, _B), weeks_left=2, story=Story.NEW_PHONE, character=YOUNG,
    ),
    Person(
        name="Kalina", instrument="baritone_tc", grade=_MIDDLE, group=_BAND, lesson_day=_WED,
        months=(_B, _B, _D), weeks_left=1, story=Story.QUIET,
    ),
    Person(
        name="Luz", instrument="trombone_tenor", grade=_OPEN, group=_HOME, lesson_day=_THU,
        months=(_B, _E, _B), weeks_left=1, child=False, note_naming="spanish",
        setup=Setup(clef=Clef.TENOR, f_attachment=True), back=WayBack.STEP,
    ),
    Person(
        name="Mats", instrument="horn_eb_alto", grade=_MIDDLE, group=_BAND, lesson_day=_THU,
        months=(_B, _B, _R), weeks_left=2, character=RISING, story=Story.HEALED,
    ),
    Person(
        name="Nadia", instrument="cornet_bb", grade=_MIDDLE, group=_BAND, lesson_day=_THU,
        months=(_B, _R, _B), story=Story.ILL,
    ),
    Person(
        name="Olof", instrument="tuba_eb_tc", grade=_OPEN, group=_BAND, lesson_day=_THU,
        months=(_B, _B, _E), weeks_left=1, child=False, story=Story.ON_PAPER,
    ),
    Person(
        name="Pia", instrument="trumpet_bb", grade=_FIRST, group=_SCHOOL, lesson_day=_FRI,
        months=(_B, _B, _B), weeks_left=1, character=YOUNG, story=Story.BRACES,
        message="With the new braces: low and middle only, and short sessions are fine.",
    ),
    Person(
        name="Quentin", instrument="trombone_bass", grade=_OPEN, group=_HOME, lesson_day=_FRI,
        months=(_B, _E, _B), child=False, character=MODEST, setup=Setup(f_attachment=True),
    ),
    Person(
        name="Rosa", instrument="euphonium_tc", grade=_MIDDLE, group=_BAND, lesson_day=_FRI,
        months=(_B, _B, _D), weeks_left=2, story=Story.LOST_PHONE,
    ),
    Person(
        name="Silas", instrument="trumpet_bb", grade=_OPEN, group=_HOME, lesson_day=_SAT,
        months=(_B, _E, _D), weeks_left=1, child=False, character=BUSY, days_off=frozenset({5, 6}),
        message="Four good days beat seven tired ones.",
    ),
    Person(
        name="Tilda", instrument="horn_f", grade=_FIRST, group=_SCHOOL, lesson_day=_SAT,
        months=(_B, _B, _B), weeks_left=-1, character=BUSY,
    ),
    Person(
        name="Umar", instrument="baritone_bc", grade=_MIDDLE, group=_BAND, lesson_day=_SAT,
        months=(_B, _R, _R), weeks_left=1, character=FLATTERING, story=Story.FASTER,
    ),
    Person(
        name="Vera", instrument="flugelhorn_bb", grade=_MIDDLE, group=_SCHOOL, lesson_day=_FRI,
        months=(_B,), weeks_left=None, message="Welcome. We begin on Monday, without hurry.",
    ),
    Person(
        name="Wim", instrument="tuba_f", grade=_OPEN, group=_HOME, lesson_day=_SAT, months=(),
        weeks_left=None, child=False,
    ),
)  # fmt: skip

WORDS_TO_THE_TEACHER = (
    "The low ones felt great today.",
    "I ran out of air near the end of every note.",
    "Played it after football, was a bit tired.",
    "Can we do something else next month?",
    "My F sharp keeps wobbling.",
    "I could hear the tuner in my head today.",
    "Played it in the garage. It sounds huge in there.",
    "Only half, we had guests.",
    "The top one came out for the first time!",
    "Endings are hard when I think about them.",
)
WORDS_AFTER_A_LESSON = (
    "Starts are clean when the breath is in time.",
    "Sound opens up below the start note. Keep that going up.",
    "The middle of the note sags after six counts.",
    "Endings are cut with the tongue. Let the air stop them.",
    "Lovely and even today.",
    "Sits more forward when the notes get high. Talked about it.",
)
PHONES = ("Android phone", "iPhone", "Android phone", "iPad")
