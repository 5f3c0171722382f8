"""The one letter this program sends at once: an invitation, in plain text."""

from collections.abc import Sequence
from enum import StrEnum
from smtplib import SMTPException
from typing import NoReturn

from django.conf import settings
from django.core.mail import EmailMessage, send_mail
from django.core.mail.backends.base import BaseEmailBackend
from django.utils.translation import gettext_lazy as _

from studio.services.team import MadeInvitation
from studio.words import ROLE_NAMES, Role

LETTER = _("""%(by)s invites you to teach in the studio %(studio)s, as: %(role)s.

Open this link within 72 hours. It works once, for you alone:
%(link)s

You do not know %(by)s? Then do nothing, and nothing happens.
""")


class NoServer(BaseEmailBackend):
    """Stands where a public site names no mail server: letters wait, and none is printed."""

    def open(self) -> NoReturn:
        """Say that nobody answers."""
        message = "FILAR_MAIL names no mail server."
        raise ConnectionError(message)

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> NoReturn:  # noqa: ARG002
        """Take none."""
        self.open()


class Sent(StrEnum):
    """What became of the letter."""

    NOT_ASKED = "not asked"
    SENT = "sent"
    WINDOW = "window"
    FAILED = "failed"


def invite(made: MadeInvitation, *, link: str) -> Sent:
    """Send the link to the e-mail that it is for; a mail server that fails breaks nothing.

    On a site without a mail server the letter stands in the window where the program runs.
    """
    invitation = made.invitation
    if not invitation.email:
        return Sent.NOT_ASKED
    studio = " ".join(invitation.studio.name.split())  # a subject is one line
    role = ROLE_NAMES[Role(invitation.role)].lower()
    words = str(LETTER) % {
        "by": invitation.made_by,
        "studio": studio,
        "role": role,
        "link": link,
    }
    try:
        send_mail(
            _("An invitation to teach in %(studio)s") % {"studio": studio},
            words,
            None,
            [invitation.email],
        )
    except (OSError, SMTPException):
        return Sent.FAILED
    return Sent.WINDOW if "console" in settings.EMAIL_BACKEND else Sent.SENT
