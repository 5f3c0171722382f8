"""Secrets that open a door: made here, kept only as hashes.

A secret has 256 bits from the operating system, so a plain SHA-256 is enough at rest; the stored
text names its algorithm so that another can stand beside it one day.
"""

import hashlib
import hmac
import secrets


def new_secret() -> str:
    """Make a secret of 256 bits as 43 characters fit for an address."""
    return secrets.token_urlsafe(32)


def hashed(secret: str) -> str:
    """Turn a secret into what may be stored."""
    return "sha256$" + hashlib.sha256(secret.encode()).hexdigest()


def matches(secret: str, stored: str) -> bool:
    """Compare a given secret with a stored hash in constant time."""
    return hmac.compare_digest(hashed(secret), stored)
