"""Secrets that open a door: made here, kept only as hashes.

A secret has 256 bits from the operating system, so a plain SHA-256 is enough at rest; the stored
text names its algorithm so that another can stand beside it one day.
"""

import hashlib
import hmac
import secrets

from django.utils.crypto import salted_hmac


def new_secret() -> str:
    """Make a secret of 256 bits as 43 characters fit for an address."""
    return secrets.token_urlsafe(32)


def following(secret: str) -> str:
    """Derive the secret that follows another one: the same old one always leads to the same new.

    Several requests at once then hand out one new secret, not several of which all but one are
    dead. It is keyed with the site's own key, so that whoever copied the old one cannot follow.
    """
    return salted_hmac("studio.secrets.following", secret, algorithm="sha256").hexdigest()


def hashed(secret: str) -> str:
    """Turn a secret into what may be stored."""
    return "sha256$" + hashlib.sha256(secret.encode()).hexdigest()


def matches(secret: str, stored: str) -> bool:
    """Compare a given secret with a stored hash in constant time."""
    return hmac.compare_digest(hashed(secret), stored)
