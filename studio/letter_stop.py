"""The link that stops letters without a sign-in: it names whose they are, signed by the site."""

from django.conf import settings
from django.core import signing
from django.urls import reverse

SALT = "studio.letters.stop"


def address(kind: str, public_id: str) -> str:
    """Make the link; `kind` is "student" for a parent's reminders, "member" for a teacher's."""
    token = signing.dumps([kind, public_id], salt=SALT)
    return f"{settings.ADDRESS}{reverse('studio:stop_letters', args=[token])}"


def read(token: str) -> tuple[str, str] | None:
    """Read a link's token, or None where the site has not signed it."""
    try:
        kind, public_id = signing.loads(token, salt=SALT)
    except (signing.BadSignature, ValueError):
        return None
    return str(kind), str(public_id)
