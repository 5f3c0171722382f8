"""The record of what was done with people, phones and data: written once, by ids, with no words."""

from datetime import datetime

from studio.models import AuditLine, Studio, User
from studio.words import AuditKind

KEEP_DAYS = 400


def record(
    studio: Studio,
    kind: AuditKind,
    *,
    by: User | None,
    moment: datetime,
    about: str = "",
    to: str = "",
) -> None:
    """Write one line. `about` and `to` are public ids, or a word of ours such as a role.

    `by` is None where no teacher did it: a phone, a timer, or a command on the server.
    """
    AuditLine.objects.create(studio=studio, moment=moment, by=by, kind=kind, about=about, to=to)
