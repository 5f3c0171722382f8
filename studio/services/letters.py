"""Letters: written down with their cause, sent by a command, tried again until a server takes them.

No page waits for a mail server. A letter is taken for sending by moving its next try ahead, which
only one process can do; a server that is down leaves it where it is. One that was taken and whose
process died is tried again, so a letter may come twice and never not at all; its Message-ID is the
same both times.
"""

from collections.abc import Iterable
from contextlib import closing
from datetime import datetime, timedelta
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import Q
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from studio.models import Discomfort, Letter, Membership, Student, Studio
from studio.words import Role

# After a failed try; the last wait is used from then on, until the letter is sent.
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 240, 720))
TAKEN = timedelta(minutes=5)
KEPT = timedelta(days=30)
AT_ONCE = 200


def write(  # noqa: PLR0913 - a letter, in full
    studio: Studio,
    *,
    key: str,
    to: str,
    subject: str,
    body: str,
    moment: datetime,
    student: Student | None = None,
    stop: str = "",
) -> Letter:
    """Write a letter down; the same key again is the same letter."""
    letter, _made = Letter.objects.get_or_create(
        key=key,
        defaults={
            "studio": studio,
            "student": student,
            "to": to,
            # A subject is one line, whatever is in a name.
            "subject": " ".join(subject.split())[:200],
            "body": body,
            "stop": stop,
            "made_at": moment,
            "next_try_at": moment,
        },
    )
    found: Letter = letter
    return found


def tell_of_hurt(discomfort: Discomfort, *, moment: datetime) -> None:
    """Write to the student's teacher, or to all teachers, once a day; no word of what it is."""
    student, day = discomfort.student, discomfort.day
    for place in _to_tell(student):
        write(
            student.studio,
            student=student,
            key=f"at-once {student.public_id} {place.public_id} {day.isoformat()}",
            to=place.user.email,
            subject=_("Please look in on a student"),
            body=_(
                "%(name)s has told you something that should not wait for the next lesson.\n\n"
                "It stands at the top of your overview:\n%(link)s\n"
            )
            % {"name": student.name, "link": f"{settings.ADDRESS}/overview"},
            moment=moment,
        )


def pass_on(place: Membership, *, moment: datetime) -> None:
    """Take back what waits for a teacher who has left, and tell those who stay what hurts.

    It is about students that the teacher has no business with any more.
    """
    waiting = Letter.objects.filter(
        studio=place.studio_id, sent_at=None, key__contains=f" {place.public_id} "
    )
    told = [letter.student_id for letter in waiting if letter.student_id is not None]
    waiting.delete()
    still_open = Discomfort.objects.filter(student__in=told, closed_at=None)
    for discomfort in still_open.select_related("student__studio"):
        tell_of_hurt(discomfort, moment=moment)


def send_waiting(moment: datetime) -> dict[str, int]:
    """Send what is due, and say how many were sent and how many wait for another try."""
    counts = {"sent": 0, "waiting": 0}
    with scopes_disabled():
        due = Letter.objects.filter(sent_at__isnull=True, next_try_at__lte=moment)
        numbers = list(due.order_by("next_try_at", "pk").values_list("pk", flat=True)[:AT_ONCE])
        connection = _opened() if numbers else None
        if connection is None:
            # Nobody takes letters now: none is touched, and the next run knocks again, once.
            counts["waiting"] = len(numbers)
        else:
            with closing(connection):
                for number in numbers:
                    letter = _take(number, moment)
                    if letter is not None:
                        counts["sent" if _send(letter, connection, moment) else "waiting"] += 1
        Letter.objects.filter(too_old(moment)).delete()
    return counts


def too_old(moment: datetime) -> Q:
    """Say of letters which are kept no longer: sent 30 days ago, or written if nobody took them."""
    return Q(sent_at__lt=moment - KEPT) | Q(sent_at=None, made_at__lt=moment - KEPT)


def _opened() -> BaseEmailBackend | None:
    """Reach the mail server once for all letters of a run, or None where it does not answer."""
    connection = get_connection()
    try:
        connection.open()
    except (OSError, SMTPException):
        return None
    return connection


def _to_tell(student: Student) -> Iterable[Membership]:
    places = Membership.objects.filter(
        studio=student.studio, ended_at__isnull=True, letters_at_once=True
    ).exclude(role=Role.COVER)
    own = places.filter(user=student.teacher_id) if student.teacher_id else places.none()
    chosen = own if own.exists() else places
    return list(chosen.select_related("user"))


def _take(number: int, moment: datetime) -> Letter | None:
    """Take a letter for sending, or None where another process has."""
    waiting = Letter.objects.filter(pk=number, sent_at__isnull=True, next_try_at__lte=moment)
    if waiting.update(next_try_at=moment + TAKEN) != 1:
        return None
    letter: Letter = Letter.objects.select_related("studio").get(pk=number)
    return letter


def _send(letter: Letter, connection: BaseEmailBackend, moment: datetime) -> bool:
    host = settings.ALLOWED_HOSTS[0]
    headers = {"Message-ID": f"<letter-{letter.pk}.{letter.made_at:%Y%m%d%H%M%S}@{host}>"}
    if letter.stop:
        # RFC 8058: a mail program can stop these letters with one press.
        headers["List-Unsubscribe"] = f"<{letter.stop}>"
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    message = EmailMessage(
        letter.subject, letter.body, to=[letter.to], headers=headers, connection=connection
    )
    try:
        message.send()
    except (OSError, SMTPException, ValueError):
        # A ValueError is a letter that cannot be written, such as an address with odd letters: it
        # must not keep the others back.
        wait = WAITS[min(letter.tries, len(WAITS) - 1)]
        letter.tries, letter.next_try_at = letter.tries + 1, moment + wait
        letter.save(update_fields=["tries", "next_try_at"])
        return False
    letter.sent_at = moment
    letter.save(update_fields=["sent_at"])
    return True
