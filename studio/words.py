"""The words that stand in the studio's columns, and how each is said on a screen."""

from collections.abc import Sequence
from datetime import date
from enum import StrEnum

from django.utils import dates
from django.utils.formats import date_format
from django.utils.functional import lazy
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy


class Grade(StrEnum):
    """How far a student has come, for ranges and advice."""

    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    OPEN = "open"


class Role(StrEnum):
    """What a member of a studio may do."""

    OWNER = "owner"
    TEACHER = "teacher"
    COVER = "cover"


ROLE_NAMES = {
    Role.OWNER: gettext_lazy("Owner"),
    Role.TEACHER: gettext_lazy("Teacher"),
    Role.COVER: gettext_lazy("Cover teacher"),
}
ROLE_EFFECTS = {
    Role.OWNER: gettext_lazy("Owner: everything, and says who teaches here"),
    Role.TEACHER: gettext_lazy("Teacher: everything but who teaches here"),
    Role.COVER: gettext_lazy("Cover teacher: reads until the end date and changes nothing"),
}


class AuditKind(StrEnum):
    """What is kept of what was done with people, phones and data."""

    INVITED = "invited"
    CALLED_OFF = "called off"
    JOINED = "joined"
    ROLE = "role"
    LEFT = "left"
    HANDED_OVER = "handed over"
    ERASED = "erased"
    OFF_THE_LISTS = "off the lists"
    BACK = "back on the lists"
    CONSENT = "consent"
    LINK = "link made"
    SET_UP = "phone set up"
    CONFIRMED = "phone confirmed"
    REFUSED = "phone refused"
    TAKEN_BACK = "refusal taken back"
    SIGNED_OUT = "phone signed out"
    PARENTS_SEE = "parents see"
    COPIED_STUDENT = "student copied"
    COPIED_STUDIO = "studio copied"
    SETTINGS = "settings"
    DROPPED = "old rows dropped"
    RECORDINGS = "recordings"
    HEARD_TAKEN = "recording taken"


# What the page of the teachers tells; the page of the record tells everything.
OF_TEACHERS = frozenset(
    {
        AuditKind.INVITED,
        AuditKind.CALLED_OFF,
        AuditKind.JOINED,
        AuditKind.ROLE,
        AuditKind.LEFT,
        AuditKind.HANDED_OVER,
        AuditKind.ERASED,
    }
)


class Caution(StrEnum):
    """How sure the program has to be before it says "may be ready"; its figures lie elsewhere."""

    BOLD = "bold"
    USUAL = "usual"
    STRICT = "strict"


class InterruptionKind(StrEnum):
    """What keeps a student from the plan for a while."""

    AWAY = "away"
    ILL = "ill"
    MOUTH = "mouth"
    LIGHT = "light"


# What a student cannot play in: these days move the end of a block once a teacher confirms them.
PAUSES = frozenset({InterruptionKind.AWAY, InterruptionKind.ILL})


class Place(StrEnum):
    """Where something hurt."""

    LIPS = "lips"
    TEETH = "teeth"
    JAW = "jaw"
    NECK = "neck"
    CHEST = "chest"
    BACK = "back"
    HANDS = "hands"
    HEAD = "head"
    DIZZY = "dizzy"
    OTHER = "other"


class HowMuch(StrEnum):
    """How much it hurt: a little is stored as mild, a lot as pain."""

    MILD = "mild"
    PAIN = "pain"


class OfferKind(StrEnum):
    """How a phone is set up: beside the teacher, by a link that was sent, or for a parent."""

    LESSON = "lesson"
    SENT = "sent"
    PARENT = "parent"


class GrantKind(StrEnum):
    """What a phone is set up for: a student, a student for an hour or two, a parent who reads."""

    STUDENT = "student"
    ONCE = "once"
    PARENT = "parent"


class GrantState(StrEnum):
    """What a phone may do."""

    PROVISIONAL = "provisional"
    CONFIRMED = "confirmed"
    ENDED = "ended"
    REFUSED = "refused"


# Their names are in the framework's own catalogue.
WEEKDAYS = tuple(dates.WEEKDAYS[number] for number in range(7))


def day_in_words(day: date) -> str:
    """Say a day within a sentence: "Tuesday 8 December"."""
    return date_format(day, "l j F")


# For a list of choices, of which most forms that are sent show nothing.
day_in_words_later = lazy(day_in_words, str)


def in_a_row(said: Sequence[str]) -> str:
    """Put words in a row as people say them: "hold, rest and tempo"; none is ""."""
    *first, last = map(str, said) if said else [""]
    if not first:
        return last
    return _("%(first)s and %(last)s") % {"first": ", ".join(first), "last": last}
