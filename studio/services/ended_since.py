"""What has been ended since a backup was made stays ended when it is put back.

A phone that was signed out or refused, a teacher who was taken out of the studio or has another
part in it: the database that the backup replaces still knows of them, and so do those that earlier
restores put aside.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from studio.models import Grant, Membership, Studio
from studio.services import team
from studio.words import GrantState, Role

PHONES = ("studio_grant", "public_id", "state", "ended_at")
PLACES = ("studio_membership", "public_id", "role", "ends_on", "ended_at")

Rows = Iterable[tuple[Any, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What a teacher is in a studio by now, a cover teacher until which day, and whether still."""

    role: Role
    ends_on: date | None
    is_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedSince:
    """Phones that were ended, with their state and since when, and teachers' parts, by public id.

    `is_all` is False where a database could not be read, or not to its end.
    """

    phones: Mapping[str, tuple[str, datetime]] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    is_all: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Teachers:
    """How many teachers were taken out again, and got today's part; owners who had to be let be."""

    taken_out: int
    changed: int
    owners_back: int


def known_of(phones: Rows, places: Rows, *, is_all: bool = True) -> EndedSince:
    """Read the rows of PHONES and PLACES, those of the oldest database first.

    Of whom a newer one knows, that one says how it is: a teacher may have come back.
    """
    newest = {row[0]: row for row in phones}
    return EndedSince(
        phones={
            number: (_state(row[1]), _moment(row[2])) for number, row in newest.items() if row[2]
        },
        parts={row[0]: _part(*row[1:]) for row in places if row[1] in set(Role)},
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


def _part(role: Any, ends_on: Any, ended_at: Any) -> Part:
    try:
        last_day = date.fromisoformat(str(ends_on)) if ends_on else None
    except ValueError:
        last_day = None
    return Part(role=Role(role), ends_on=last_day, is_out=bool(ended_at))


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


def renew_parts(known: EndedSince, *, moment: datetime) -> Teachers:
    """Give the teachers of the backup the parts they have by now, and take out again who left.

    Where that would leave a studio without an owner, as the backup knows nobody who owns it now,
    its owners of that day are let be: somebody must own a studio.
    """
    taken_out = changed = back = 0
    for studio in Studio.objects.all():
        living = list(Membership.objects.filter(studio=studio, ended_at__isnull=True))
        parts = {place: known.parts.get(place.public_id) or _as_then(place) for place in living}
        if not any(part.role is Role.OWNER and not part.is_out for part in parts.values()):
            owners = [place for place in living if place.is_owner]
            back += sum(parts[place].is_out for place in owners)
            parts |= {place: _as_then(place) for place in owners}
        for place, part in parts.items():
            if part.is_out:
                team.take_out(place, moment=moment)
                taken_out += 1
            elif part != _as_then(place):
                team.give_part(place, role=part.role, ends_on=part.ends_on)
                changed += 1
    return Teachers(taken_out=taken_out, changed=changed, owners_back=back)


def _as_then(place: Membership) -> Part:
    return Part(role=Role(place.role), ends_on=place.ends_on, is_out=False)
