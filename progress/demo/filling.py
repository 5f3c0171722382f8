"""Laying the demo's studio down in an empty database, and knowing it again later."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.db import transaction
from django_scopes import scope

from progress.demo import practice
from progress.demo.months import Setting, assign_months
from progress.demo.people import PEOPLE, PHONES, STUDIO, STUDIO_PUBLIC_ID, TEACHER, Person, Story
from progress.demo.practice import Diary
from progress.engine.check_in import Discomfort as HowItWas
from progress.engine.check_in import NoSession
from progress.models import CheckIn, LessonRating, NotToday
from routines.services.pauses import follow_pauses
from studio.access import practice_day
from studio.models import Grant, Interruption, Membership, Student, Studio, User
from studio.services import pairing, people, phone_use, wellbeing
from studio.words import HowMuch, InterruptionKind, OfferKind, Place, Role

PHONE_SET_UP = time(16, 50)
PROVISIONAL_FOR = timedelta(minutes=40)
_REASONS = {NoSession.NO_TIME: 6, NoSession.ELSEWHERE: 3}


class OtherStudioError(Exception):
    """The database holds a studio that is not the demo's; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """The demo's studio and its teacher."""

    studio: Studio
    teacher: User


def find() -> Demo | None:
    """Find the demo's studio; OtherStudioError if somebody else's is there."""
    found = Studio.objects.filter(public_id=STUDIO_PUBLIC_ID).first()
    if Studio.objects.exclude(public_id=STUDIO_PUBLIC_ID).exists() or (
        found is None and User.objects.exists()
    ):
        message = (
            "This database holds a real studio: the demo needs one of its own. "
            "Set DATABASE_URL to a new file, such as sqlite:///demo.sqlite3."
        )
        raise OtherStudioError(message)
    if found is None:
        return None
    with scope(studio=found):
        first = Membership.objects.filter(role=Role.OWNER).select_related("user").order_by("pk")
        return Demo(studio=found, teacher=first[0].user)


def fill(*, seed: int, moment: datetime) -> Demo:
    """Make the demo's studio with three months of practice up to a moment, all or nothing."""
    random = Random(seed)  # noqa: S311 - invented practice, not a secret
    with transaction.atomic():
        teacher = people.make_studio(
            studio={**STUDIO, "public_id": STUDIO_PUBLIC_ID}, teacher=dict(TEACHER)
        )
        studio = Studio.objects.get(public_id=STUDIO_PUBLIC_ID)
        setting = Setting(
            teacher=teacher,
            day=practice_day(studio, moment),
            moment=moment,
            zone=ZoneInfo(studio.time_zone),
        )
        with scope(studio=studio):
            _lay_down(studio, setting, random)
    return Demo(studio=studio, teacher=teacher)


def _lay_down(studio: Studio, setting: Setting, random: Random) -> None:
    filed: list[CheckIn] = []
    heard: list[LessonRating] = []
    told: list[NotToday] = []
    for number, person in enumerate(PEOPLE):
        student = _student(studio, person, setting)
        diary = Diary(
            person=person,
            student=student,
            blocks=assign_months(person, student, setting),
            phone=_phones(student, person, PHONES[number % len(PHONES)], setting),
            setting=setting,
            random=random,
        )
        if not diary.blocks:
            continue
        _interrupt(diary)
        rows = practice.check_ins(diary)
        _tell_what_hurt(diary, rows)
        filed += rows
        heard += practice.lesson_ratings(diary)
        told += _not_todays(diary, rows)
    CheckIn.objects.bulk_create(filed)
    LessonRating.objects.bulk_create(heard)
    NotToday.objects.bulk_create(told)
    _note_last_days(filed)


def _student(studio: Studio, person: Person, setting: Setting) -> Student:
    began = setting.day - timedelta(days=120 + 9 * person.lesson_day)
    consent = {"consent_on": began, "consent_how": "signed form"} if person.child else {}
    setup = person.setup
    return people.add_student(
        studio,
        name=person.name,
        instrument=person.instrument,
        clef=setup.clef or "",
        four_valves=setup.four_valves,
        compensating=setup.compensating,
        f_attachment=setup.f_attachment,
        child=person.child,
        grade=person.grade,
        group=person.group,
        lesson_day=person.lesson_day,
        note_naming=person.note_naming,
        parent_email=f"family.{person.name.lower()}@example.org" if person.child else "",
        **consent,
    )


def _phones(student: Student, person: Person, label: str, setting: Setting) -> Grant | None:
    """Set a student's phones up through the door; give back the one that practice comes from."""
    if person.story is Story.ON_PAPER:
        return None
    begun = setting.at(setting.day - timedelta(days=100), PHONE_SET_UP)
    usual = _set_up(student, label, setting, begun)
    if person.story is Story.NEW_PHONE:
        _set_up(student, "Android phone", setting, setting.moment - PROVISIONAL_FOR, sure=False)
    if person.story is Story.TWO_PHONES:
        _set_up(student, "iPad", setting, begun + timedelta(days=20))
    if person.story is Story.LOST_PHONE:
        lost = _set_up(student, "iPhone", setting, begun + timedelta(days=5))
        phone_use.note_use(lost, day=setting.day - timedelta(days=60))
        pairing.sign_out_phone(lost, moment=setting.moment - timedelta(days=58))
    return usual


def _set_up(
    student: Student, label: str, setting: Setting, moment: datetime, *, sure: bool = True
) -> Grant:
    made = pairing.make_offer(student, kind=OfferKind.SENT, by=setting.teacher, moment=moment)
    redeemed = pairing.redeem(made.token, label=label, moment=moment)
    assert isinstance(redeemed, pairing.Redeemed)  # noqa: S101 - the offer was made just now
    if sure:
        pairing.confirm_phone(redeemed.grant, moment=moment + timedelta(minutes=6))
    return redeemed.grant


def _interrupt(diary: Diary) -> None:
    """Keep what kept a student from the plan, and leave those days without practice."""
    today, student = diary.setting.day, diary.student
    if diary.person.story is Story.ILL:
        wellbeing.tell_interruption(
            student, kind=InterruptionKind.ILL, day=today - timedelta(days=2)
        )
        diary.pauses.update(today - timedelta(days=number) for number in range(3))
    known = {
        Story.AWAY: (InterruptionKind.AWAY, 38, 30, "Family visit"),
        Story.BRACES: (InterruptionKind.MOUTH, 52, 45, "New braces"),
        Story.LIGHT: (InterruptionKind.LIGHT, 24, 18, "School exams"),
    }.get(diary.person.story)
    if known is not None:
        kind, first, last, note = known
        _confirmed(diary, kind, today - timedelta(days=first), today - timedelta(days=last), note)
        follow_pauses(student)


def _confirmed(diary: Diary, kind: InterruptionKind, first: date, last: date, note: str) -> None:
    Interruption.objects.create(
        student=diary.student,
        kind=kind,
        first_day=first,
        last_day=last,
        note=note,
        confirmed_at=diary.setting.at(first, PHONE_SET_UP),
    )
    if kind is not InterruptionKind.LIGHT:
        days = (last - first).days + 1
        diary.pauses.update(first + timedelta(days=number) for number in range(days))


def _tell_what_hurt(diary: Diary, rows: list[CheckIn]) -> None:
    """Open a discomfort for each check-in that hurt; an older one was talked over and closed."""
    for row in rows:
        if row.discomfort not in {HowItWas.MILD, HowItWas.PAIN}:
            continue
        told = wellbeing.open_discomfort(
            diary.student,
            key=row.key,
            day=row.day,
            moment=row.received_at,
            place=Place(row.place),
            how_much=HowMuch(row.discomfort),
        )
        if diary.person.story is Story.HEALED:
            wellbeing.close_discomfort(
                told,
                by=diary.setting.teacher,
                moment=row.received_at + timedelta(days=3),
                spoken_with_family=True,
            )


def _not_todays(diary: Diary, filed: list[CheckIn]) -> list[NotToday]:
    """Say for some of the silent days why nothing was played, and for the days of an illness."""
    if diary.phone is None:
        return []
    random = diary.random
    rows = {
        day: random.choices(list(_REASONS), list(_REASONS.values()))[0]
        for day in practice.silent_days(diary, filed)
        if random.random() < 0.2
    }
    if diary.person.story is Story.ILL:
        rows |= {day: NoSession.ILL for day in diary.pauses if day < diary.setting.day}
    return [
        NotToday(
            student=diary.student,
            grant=diary.phone,
            day=day,
            reason=reason,
            told_at=diary.setting.at(day, time(19, 5)),
        )
        for day, reason in rows.items()
    ]


def _note_last_days(filed: list[CheckIn]) -> None:
    """Note on each phone the last day it was used."""
    # A student's rows come in the order of the days, so the last one stands.
    last = {row.grant: row.day for row in filed if row.grant is not None}
    for grant, day in last.items():
        phone_use.note_use(grant, day=day)
