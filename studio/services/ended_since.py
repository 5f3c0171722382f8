"""What has been ended since a backup was made stays ended when it is put back.

A phone that was signed out or refused, and a teacher who was taken out of the studio: the database
that the backup replaces still knows of them, and so do those that earlier restores put aside.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from studio.models import Grant, Membership, Studio
from studio.services import team
from studio.words import GrantState, Role

PHONES = ("studio_grant", "public_id", "state", "ended_at")
PLACES = ("studio_membership", "public_id", "role", "ended_at")

Rows = Iterable[tuple[Any, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedSince:
    """Phones by public id, with their state and since when; places that were ended, and owners'.

    `is_all` is False where a database could not be read, or not to its end.
    """

    phones: Mapping[str, tuple[str, datetime]] = field(default_factory=dict)
    teachers: frozenset[str] = frozenset()
    owners: frozenset[str] = frozenset()
    is_all: bool = True


def known_of(phones: Rows, places: Rows, *, is_all: bool = True) -> EndedSince:
    """Read the rows of PHONES and PLACES, those of the oldest database first.

    Of whom a newer one knows, that one says how it is: a teacher may have come back.
    """
    newest = {row[0]: row for row in phones}
    teachers = {row[0]: row for row in places}
    return EndedSince(
        phones={
            number: (_state(row[1]), _moment(row[2])) for number, row in newest.items() if row[2]
        },
        teachers=frozenset(number for number, row in teachers.items() if row[2]),
        owners=frozenset(
            number for number, row in teachers.items() if row[1] == Role.OWNER and not row[2]
        ),
        is_all=is_all,
    )


def rows_here() -> tuple[Rows, Rows]:
    """Read the rows of PHONES and PLACES in the program's own database, all studios of it."""
    phones = Grant.objects.order_by("pk").values_list(*PHONES[1:])
    places = Membership.objects.order_by("pk").values_list(*PLACES[1:])
    return list(phones), list(places)


def _state(said: Any) -> str:
    """Read how a phone was ended; what a damaged file says of it may be no state at all."""
    return str(said) if said in set(GrantState) else GrantState.ENDED


def _moment(said: Any) -> datetime:
    """Read a moment as a database writes it, in UTC where no zone stands; now for anything else."""
    try:
        moment = said if isinstance(said, datetime) else datetime.fromisoformat(str(said))
    except ValueError:
        return datetime.now(UTC)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def end_phones(known: EndedSince) -> int:
    """End these phones again, each as it was ended: a refused one's check-ins stay set aside.

    Says how many were in use when the backup was made.
    """
    changed = 0
    for number in Grant.objects.values_list("public_id", flat=True):
        if number in known.phones:
            state, since = known.phones[number]
            back = Grant.objects.filter(public_id=number)
            changed += back.filter(ended_at__isnull=True).update(ended_at=since)
            back.update(state=state)
    return changed


def end_teachers(known: EndedSince, *, moment: datetime) -> tuple[int, int]:
    """Take these teachers out again; says how many, and how many owners had to stay.

    Where the backup knows no other owner, whoever owns the studio now owns it again. Only where
    the backup knows none of them does an owner who left stay: somebody must own a studio.
    """
    taken_out = stays = 0
    for studio in Studio.objects.all():
        living = Membership.objects.filter(studio=studio, ended_at__isnull=True)
        gone = living.filter(public_id__in=known.teachers)
        others = living.exclude(pk__in=gone)
        if not others.filter(role=Role.OWNER).exists():
            owners_now = others.filter(public_id__in=known.owners)
            if not owners_now.update(role=Role.OWNER, ends_on=None):
                stays += gone.filter(role=Role.OWNER).count()
                gone = gone.exclude(role=Role.OWNER)
        for place in list(gone):
            team.take_out(place, moment=moment)
            taken_out += 1
    return taken_out, stays
