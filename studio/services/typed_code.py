"""A code to type, for a phone without a camera: three symbols that find it, six that open it."""

import secrets
from datetime import datetime

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import F

from studio import limits
from studio.models import Offer
from studio.words import OfferKind

# No vowels, so that no word comes about, and nothing that looks like something else.
SYMBOLS = "23456789BCDFGHJKMNPQRSTVWXYZ"
FINDER, OPENER = 3, 6
MOST_TRIES = 5


def new_code() -> str:
    """Make a code of nine symbols; six of them are 28.8 bits that a stranger has to guess."""
    return "".join(secrets.choice(SYMBOLS) for _ in range(FINDER + OPENER))


def shown(code: str) -> str:
    """Write a code in threes, as it is read out."""
    return "-".join(code[at : at + 3] for at in range(0, len(code), 3))


def read(typed: str) -> str:
    """Take a code as people type it: small letters, spaces and hyphens make no difference."""
    code = "".join(sign for sign in typed.upper() if sign not in " -\u2010\u2011\u2013.")
    is_code = len(code) == FINDER + OPENER and set(code) <= set(SYMBOLS)
    return code if is_code else ""


def keep(code: str) -> dict[str, str]:
    """Turn a code into what an offer keeps of it."""
    return {"code_finder": code[:FINDER], "code_hash": make_password(code[FINDER:])}


def find(code: str, *, moment: datetime) -> Offer | None:
    """Find the offer that a code opens; after five wrong ones that code opens nothing any more.

    A try is counted before the code is looked at, so that many at once are no way round, and a
    right one is given back. So many wrong ones an hour in one studio, over all its codes, raise
    TooManyError. A code whose first three symbols find nothing takes the same work, so that nobody
    learns from the time it takes. Call it outside a transaction: that work is long, and a count
    must stand whatever comes after.
    """
    if not code:
        return None
    looked_at = False
    living = Offer.objects.filter(
        kind=OfferKind.LESSON, used_at__isnull=True, expires_at__gt=moment, code_hash__gt=""
    )
    begin_like_it = living.filter(code_finder=code[:FINDER]).select_related("student__studio")
    for offer in begin_like_it.order_by("pk"):
        this, studio = living.filter(pk=offer.pk), offer.student.studio.public_id
        with transaction.atomic():
            counted = this.filter(code_tries__lt=MOST_TRIES).update(code_tries=F("code_tries") + 1)
            if counted:
                limits.hold(limits.CODE_BY_STUDIO, studio, moment=moment)
        if not counted:
            continue
        looked_at = True
        if check_password(code[FINDER:], offer.code_hash):
            with transaction.atomic():
                # In the order of counting, so that of two at once none waits for the other.
                this.update(code_tries=F("code_tries") - 1)
                limits.give_back(limits.CODE_BY_STUDIO, studio)
            return offer
    if not looked_at:
        make_password(code[FINDER:])
    return None
