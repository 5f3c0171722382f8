"""What has been ended since a backup was made stays ended when it is put back.

A phone that was signed out or refused, and a teacher who was taken out of the studio: the database
that the backup replaces still knows of them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from studio.models import Grant, Membership, Studio
from studio.services import team
from studio.words import GrantState, Role

PHONES = "SELECT public_id, state FROM studio_grant WHERE ended_at IS NOT NULL"
TEACHERS = "SELECT public_id FROM studio_membership WHERE ended_at IS NOT NULL"


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedSince:
    """Phones by public id with their state, and the places of teachers who were taken out."""

    phones: Mapping[str, str] = field(default_factory=dict)
    teachers: frozenset[str] = frozenset()


def known_of(phones: Iterable[tuple[str, ...]], teachers: Iterable[tuple[str, ...]]) -> EndedSince:
    """Keep the rows that PHONES and TEACHERS ask a file for."""
    return EndedSince(
        phones={row[0]: row[1] for row in phones},
        teachers=frozenset(row[0] for row in teachers),
    )


def known_here() -> EndedSince:
    """Ask the program's own database, all studios of it."""
    phones = Grant.objects.filter(ended_at__isnull=False).values_list("public_id", "state")
    places = Membership.objects.filter(ended_at__isnull=False).values_list("public_id")
    return known_of(list(phones), list(places))


def end_phones(known: EndedSince, *, moment: datetime) -> int:
    """End these phones again, each as it was ended: a refused one's check-ins stay set aside.

    Says how many were in use when the backup was made.
    """
    changed = 0
    for state in GrantState:
        ended = [number for number, ended_as in known.phones.items() if ended_as == state]
        back = Grant.objects.filter(public_id__in=ended)
        changed += back.filter(ended_at__isnull=True).update(ended_at=moment)
        back.update(state=state)
    return changed


def end_teachers(known: EndedSince, *, moment: datetime) -> tuple[int, int]:
    """Take these teachers out again; says how many, and how many owners had to stay.

    An owner who left since stays where the backup knows no other owner: somebody must own a studio.
    """
    taken_out = stays = 0
    for studio in Studio.objects.all():
        living = Membership.objects.filter(studio=studio, ended_at__isnull=True)
        gone = living.filter(public_id__in=known.teachers)
        if not living.filter(role=Role.OWNER).exclude(pk__in=gone).exists():
            stays += gone.filter(role=Role.OWNER).count()
            gone = gone.exclude(role=Role.OWNER)
        for place in list(gone):
            team.take_out(place, moment=moment)
            taken_out += 1
    return taken_out, stays
