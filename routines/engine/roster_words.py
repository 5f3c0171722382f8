"""The words people write in a list of students, and what each stands for.

Conventions: compared by :func:`plain`, without accents, signs and case.
"""

import unicodedata
from collections.abc import Mapping
from enum import StrEnum

from routines.engine.catalogue import gettext_noop


class Column(StrEnum):
    """What a column may hold."""

    NAME = "name"
    INSTRUMENT = "instrument"
    LESSON_DAY = "lesson day"
    GROUP = "group"
    CONSENT = "parent’s OK"
    EMAIL = "parent e-mail"


COLUMN_NAMES = {
    Column.NAME: gettext_noop("name"),
    Column.INSTRUMENT: gettext_noop("instrument"),
    Column.LESSON_DAY: gettext_noop("lesson day"),
    Column.GROUP: gettext_noop("group"),
    Column.CONSENT: gettext_noop("parent’s OK"),
    Column.EMAIL: gettext_noop("parent e-mail"),
}
# What people write over their columns, in some languages; compared without signs and case.
HEADINGS: Mapping[Column, tuple[str, ...]] = {
    Column.NAME: (
        "name", "firstname", "student", "studentname", "pupil", "vorname", "schuler", "schulerin",
        "nombre", "nom", "prenom", "nome", "naam", "navn", "namn", "imie",
    ),
    Column.INSTRUMENT: ("instrument", "instrumento", "strumento", "instrumentet"),
    Column.LESSON_DAY: ("lessonday", "lesson", "day", "weekday", "tag", "wochentag", "dia", "jour"),
    Column.GROUP: ("group", "class", "band", "school", "gruppe", "klasse", "schule"),
    Column.CONSENT: (
        "parentsok", "parentok", "consent", "parentsyes", "permission", "einwilligung",
        "elternok",
    ),
    Column.EMAIL: (
        "parentemail", "parentsemail", "email", "mail", "emailaddress", "elternemail",
    ),
}  # fmt: skip
WEEKDAYS = (
    ("monday", "mon", "mo", "montag", "lundi", "lunes"),
    ("tuesday", "tue", "tues", "tu", "dienstag", "di", "mardi", "martes"),
    ("wednesday", "wed", "we", "mittwoch", "mi", "mercredi", "miercoles"),
    ("thursday", "thu", "thur", "thurs", "th", "donnerstag", "do", "jeudi", "jueves"),
    ("friday", "fri", "fr", "freitag", "vendredi", "viernes"),
    ("saturday", "sat", "sa", "samstag", "sonnabend", "samedi", "sabado"),
    ("sunday", "sun", "su", "sonntag", "so", "dimanche", "domingo"),
)
# Short names that teachers write, for what they nearly always mean: common practice, no published
# source.
SHORT_NAMES = {
    "trumpet": "trumpet_bb",
    "trompete": "trumpet_bb",
    "cornet": "cornet_bb",
    "kornett": "cornet_bb",
    "flugelhorn": "flugelhorn_bb",
    "flugel": "flugelhorn_bb",
    "horn": "horn_f",
    "frenchhorn": "horn_f",
    "waldhorn": "horn_f",
    "doublehorn": "horn_double_f_bb",
    "tenorhorn": "horn_eb_alto",
    "altohorn": "horn_eb_alto",
    "trombone": "trombone_tenor",
    "posaune": "trombone_tenor",
    "tenortrombone": "trombone_tenor",
    "basstrombone": "trombone_bass",
    "baritone": "baritone_bc",
    "baritonehorn": "baritone_bc",
    "euphonium": "euphonium_bc",
    "tuba": "tuba_bbb",
    "basstuba": "tuba_bbb",
}
YES = frozenset({"yes", "y", "ok", "ja", "j", "si", "oui", "x", "true", "1", "tak"})
NO = frozenset({"no", "n", "nein", "non", "false", "0", "nie"})


def plain(text: str) -> str:
    """Leave of a text its letters and figures, without accents and case."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if sign.isalnum())
