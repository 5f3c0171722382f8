"""What a phone's use leaves behind: the day it was last used, and its secret, which is renewed."""

from datetime import date

from studio import secrets
from studio.models import Grant
from studio.words import GrantState


def note_use(grant: Grant, *, day: date) -> None:
    """Note the day a phone was last used, for the teacher's list of phones."""
    Grant.objects.filter(pk=grant.pk).update(last_day=day)


def wants_new_secret(grant: Grant) -> bool:
    """Whether the phone was confirmed and still shows the secret from before."""
    return grant.state == GrantState.CONFIRMED and not grant.secret_is_new


def renew_secret(grant: Grant, *, shown: str) -> str:
    """Give a confirmed phone a new secret; the old one holds until the new one comes back.

    A copy of the cookie made while the phone was waiting for its yes is worth nothing once the
    phone has answered with the new one.
    """
    secret = secrets.following(shown)
    Grant.objects.filter(
        pk=grant.pk, secret_hash=secrets.hashed(shown), secret_is_new=False
    ).update(next_secret_hash=secrets.hashed(secret))
    return secret


def settle_secret(grant: Grant, *, shown: str) -> None:
    """Drop the old secret: the phone has shown the new one. Of several at once one does it."""
    Grant.objects.filter(pk=grant.pk, next_secret_hash=secrets.hashed(shown)).update(
        secret_hash=secrets.hashed(shown), next_secret_hash="", secret_is_new=True
    )
