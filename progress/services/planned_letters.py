"""The letters that come by the calendar: a teacher's on Mondays, a reminder to a parent.

Both hold first names and links. What was told of pain, what was answered and how a month goes is
behind the sign-in; a child who told of pain is never reminded to play.
"""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils.translation import gettext as _
from django_scopes import scope

from progress.engine.attention import Code, Standing, standing
from progress.engine.parameters import BY_CAUTION, Caution
from progress.engine.readiness import assess_as_of
from progress.queries.evidence import evidence_of
from progress.queries.months import StudentMonth, studio_months
from studio import access, letter_stop
from studio.access import practice_day
from studio.models import Membership, Student, Studio
from studio.services import letters

MONDAY = 0
MONDAYS_FROM = time(7)
REMIND_FROM, REMIND_UNTIL = time(16), time(20)
QUIET_DAYS = 4
LOOK_IN = (Standing.REST_AND_ASK, Standing.LOOK_IN)


def plan_letters(moment: datetime) -> int:
    """Write down every letter that is due by the calendar, each once; say how many stand."""
    count = 0
    for studio in Studio.objects.order_by("pk"):
        there = moment.astimezone(ZoneInfo(studio.time_zone))
        with scope(studio=studio):
            if there.weekday() == MONDAY and there.time() >= MONDAYS_FROM:
                count += sum(_write_monday(place, there, moment) for place in _readers(studio))
            if REMIND_FROM <= there.time() < REMIND_UNTIL:
                count += _remind(studio, there.date(), moment)
    return count


def _readers(studio: Studio) -> Iterable[Membership]:
    places = Membership.objects.filter(
        studio=studio, ended_at__isnull=True, letters_on_mondays=True
    )
    return places.select_related("user", "studio").order_by("pk")


def _write_monday(place: Membership, there: datetime, moment: datetime) -> int:
    if place.ends_on is not None and place.ends_on < there.date():
        return 0
    day = practice_day(place.studio, moment)
    months = studio_months(access.students_of(place), day)
    if not months:
        return 0
    stop = letter_stop.address("member", place.public_id)
    letters.write(
        place.studio,
        key=f"monday {place.public_id} {there.date().isoformat()}",
        to=place.user.email,
        subject=_("Your week at %(studio)s") % {"studio": place.studio.name},
        body=_monday_words(months, stop=stop),
        stop=stop,
        moment=moment,
    )
    return 1


def _monday_words(months: list[StudentMonth], *, stop: str) -> str:
    standings = {month.student.pk: _standing(month) for month in months}
    of = {
        _("Look in on"): [
            month for month in months if standings[month.student.pk] in LOOK_IN or month.reasons
        ],
        _("May be ready to move on"): [
            month for month in months if standings[month.student.pk] is Standing.MAY_BE_READY
        ],
        _("Month ending"): [month for month in months if month.is_ending],
        _("No news"): [
            month for month in months if any(one.code is Code.QUIET for one in month.reasons)
        ],
    }
    lines = [
        f"{heading}: {', '.join(month.student.name for month in found)}"
        for heading, found in of.items()
        if found
    ]
    said = "\n".join(lines) or _("Nobody needs a look, and no month ends this week.")
    return _(
        "%(said)s\n\nYour overview: %(link)s\n\nYou decide; the program only reads what was told.\n"
        "No more of these letters: %(stop)s\n"
    ) % {"said": said, "link": f"{settings.ADDRESS}/overview", "stop": stop}


def _standing(month: StudentMonth) -> Standing | None:
    evidence = evidence_of(month)
    if evidence is None or month.block is None:
        return None
    parameters = BY_CAUTION[Caution(month.student.studio.caution)]
    found = assess_as_of(evidence, month.day, parameters)
    return standing(found.outcome, month.reasons, day=month.day, last_day=month.block.last_day)


def _remind(studio: Studio, today: date, moment: datetime) -> int:
    asked = Student.objects.filter(
        studio=studio, remind_parent=True, archived_on__isnull=True
    ).exclude(parent_email="")
    day = practice_day(studio, moment)
    quiet = [month for month in studio_months(asked, day) if _is_quiet(month)]
    week = today - timedelta(days=today.weekday())
    for month in quiet:
        student = month.student
        stop = letter_stop.address("student", student.public_id)
        letters.write(
            studio,
            student=student,
            key=f"reminder {student.public_id} {week.isoformat()}",
            to=student.parent_email,
            subject=_("%(name)s’s long tones") % {"name": student.name},
            body=_(
                "It has been quiet for some days. A few calm minutes with the horn are enough; "
                "nothing has to be made up for.\n\n"
                "Is %(name)s ill, away, or not in the mood? A word to the teacher is enough.\n\n"
                "%(studio)s\n\nNo more of these letters: %(stop)s\n"
            )
            % {"name": student.name, "studio": studio.name, "stop": stop},
            stop=stop,
            moment=moment,
        )
    return len(quiet)


def _is_quiet(month: StudentMonth) -> bool:
    """Whether a block runs, nothing keeps the student from it, and four days had no news."""
    block = month.block
    if block is None or not month.is_running or month.discomforts or month.open_interruptions:
        return False
    if month.day.weekday() in block.weekdays_off:
        return False
    news = [*month.filed_days, *month.not_todays, block.first_day - timedelta(days=1)]
    return (month.day - max(news)).days > QUIET_DAYS
