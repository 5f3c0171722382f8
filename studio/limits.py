"""How often something may be done, which the tables in docs/limits.md name as well.

Each limit is a bucket (RFC 2697 calls the like a token bucket): it holds so many tries, and each
one drips away again, evenly, over the time. The buckets lie in the database, so that they hold
across server processes and hosts, and a limit is counted before the thing is done, so that many at
once do not slip through. What went well may be given back.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from math import ceil
from typing import Any

from django.db import transaction
from django.db.models import (
    BigIntegerField,
    CharField,
    DateTimeField,
    F,
    FloatField,
    QuerySet,
    Value,
)
from django.db.models.functions import Greatest

from studio.models import Tries
from studio.prepared import Prepared, PreparedUpdate


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """So many tries in so many seconds; `name` stands in the database."""

    name: str
    tries: int
    seconds: int

    @property
    def seconds_each(self) -> float:
        """How long it takes until one try is given back."""
        return self.seconds / self.tries


HOUR = 60 * 60
SIGN_IN_BY_ADDRESS = Limit(name="sign-in by address", tries=20, seconds=HOUR)
SIGN_IN_BY_ACCOUNT = Limit(name="sign-in by account", tries=10, seconds=HOUR)
LINK_BY_ADDRESS = Limit(name="link by address", tries=20, seconds=10 * 60)
CHECK_IN_BY_PHONE = Limit(name="check-in by phone", tries=60, seconds=HOUR)
HEAVY_BY_TEACHER = Limit(name="heavy by teacher", tries=20, seconds=HOUR)
STUDIOS_BY_ADDRESS = Limit(name="studios by address", tries=5, seconds=HOUR)
RECORDING_BY_PHONE = Limit(name="recording by phone", tries=20, seconds=HOUR)
CODE_BY_STUDIO = Limit(name="code by studio", tries=100, seconds=HOUR)
HURT_BY_PHONE = Limit(name="something hurts by phone", tries=60, seconds=HOUR)
CODE_BY_PHONE = Limit(name="code by phone", tries=6, seconds=HOUR)

ALL = (
    SIGN_IN_BY_ADDRESS,
    SIGN_IN_BY_ACCOUNT,
    LINK_BY_ADDRESS,
    CHECK_IN_BY_PHONE,
    HEAVY_BY_TEACHER,
    STUDIOS_BY_ADDRESS,
    RECORDING_BY_PHONE,
    CODE_BY_STUDIO,
    HURT_BY_PHONE,
    CODE_BY_PHONE,
)


class TooManyError(Exception):
    """Somebody has to wait; `seconds` says for how long."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"wait {seconds} s")
        self.seconds = seconds


def _tries(**known: Any) -> QuerySet[Tries]:
    return Tries.objects.select_for_update().filter(**known)


_TRIES = Prepared(_tries, limit=CharField(), who=CharField())
_COUNT = PreparedUpdate(
    lambda row: Tries.objects.filter(pk=row),
    columns=("used", "at"),
    row=BigIntegerField(),
    used=FloatField(),
    at=DateTimeField(),
)


def hold(limit: Limit, who: str, *, moment: datetime) -> None:
    """Count one try of somebody, or raise TooManyError, which becomes a page that says when."""
    if seconds := take(limit, who, moment=moment):
        raise TooManyError(seconds)


def take(limit: Limit, who: str, *, moment: datetime) -> int:
    """Count one try of somebody; give 0, or the seconds to wait, and then nothing is counted.

    `who` is an address, an account or an id; only its hash is kept.
    """
    known = {"limit": limit.name, "who": _hashed(who)}
    with transaction.atomic(savepoint=False):
        found = _TRIES.rows(**known)
        first = {"used": 1.0, "at": moment}
        tries, is_new = (
            (found[0], False) if found else _tries().get_or_create(**known, defaults=first)
        )
        if is_new:
            return 0
        passed = max(0.0, (moment - tries.at).total_seconds())
        used = max(0.0, tries.used - passed / limit.seconds_each)
        if used + 1 > limit.tries:
            return max(1, ceil((used + 1 - limit.tries) * limit.seconds_each))
        _COUNT.write(row=tries.pk, used=used + 1, at=max(moment, tries.at))
    return 0


def give_back(limit: Limit, who: str) -> None:
    """Take one try out of the count again: it went well."""
    less = Greatest(F("used") - 1, Value(0.0), output_field=FloatField())
    Tries.objects.filter(limit=limit.name, who=_hashed(who)).update(used=less)


def forget_old(*, moment: datetime) -> int:
    """Delete what has dripped away altogether; say how many rows that were."""
    longest = max(limit.seconds for limit in ALL)
    old = Tries.objects.filter(at__lt=moment - timedelta(seconds=longest))
    return old.delete()[0]


def _hashed(who: str) -> str:
    return sha256(who.encode(errors="replace")).hexdigest()
