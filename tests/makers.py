"""Makers of invented people and their practice: every value can be set, nothing is hidden.

The three people of most tests are a teacher, her student, and a stranger from another studio.
Makers work outside every scope; a test that reads rows opens the scope itself.
"""

import re
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.check_in import NoSession, Source
from progress.models import CheckIn, Decision, NotToday
from routines.engine import instruments
from routines.engine.plan import DEFAULT_LENGTH, SUNDAY, BlockPlan, baseline
from routines.engine.section import Pitch
from routines.engine.variants import Variant
from routines.models import Block, BlockVersion, Template
from routines.queries import setup_of, version_on
from routines.services.templates import Kept, remove_template, save_template
from routines.services.versions import write_version
from studio import secrets
from studio.access import practice_day
from studio.models import (
    Discomfort,
    Grant,
    Interruption,
    Invitation,
    Membership,
    Offer,
    Student,
    Studio,
    User,
    new_public_id,
)
from studio.words import GrantKind, GrantState, HowMuch, OfferKind, Place, Role

PASSWORD = "three quiet low notes"
_numbers = count(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedPhone:
    """A phone: its row, and the cookie that the phone itself shows."""

    grant: Grant
    cookie: str


def a_studio(*, name: str = "North Street Brass", time_zone: str = "UTC", **values: Any) -> Studio:
    return Studio.objects.create(name=name, time_zone=time_zone, **values)


def a_teacher(
    studio: Studio | None = None,
    *,
    name: str = "Runa",
    email: str = "",
    password: str = PASSWORD,
    role: Role = Role.TEACHER,
    ends_on: date | None = None,
) -> User:
    email = email or f"teacher{next(_numbers)}@example.org"
    user = User.objects.create_user(email, password, name=name)
    place = studio or a_studio()
    with scopes_disabled():
        Membership.objects.create(studio=place, user=user, role=role, ends_on=ends_on)
    return user


def place_of(user: User) -> Membership:
    """Find a teacher's place in their one studio."""
    with scopes_disabled():
        place: Membership = Membership.objects.select_related("studio", "user").get(user=user)
    return place


def an_invitation(
    studio: Studio,
    *,
    by: User | None = None,
    token: str = "",
    role: Role = Role.TEACHER,
    made_at: datetime | None = None,
    **values: Any,
) -> Invitation:
    made = made_at or timezone.now()
    with scopes_disabled():
        invitation: Invitation = Invitation.objects.create(
            studio=studio,
            role=role,
            token_hash=secrets.hashed(token or secrets.new_secret()),
            made_by=by,
            made_at=made,
            expires_at=made + timedelta(hours=72),
            **values,
        )
    return invitation


def studio_of(user: User) -> Studio:
    with scopes_disabled():
        membership: Membership = Membership.objects.select_related("studio").get(user=user)
    return membership.studio


def a_student(studio: Studio, *, name: str = "Nor", **values: Any) -> Student:
    """Make a child with a parent's yes on a trumpet, unless the values say otherwise."""
    fields: dict[str, Any] = {
        "instrument": "trumpet_bb",
        "child": True,
        "consent_on": date(2026, 1, 10),
        "consent_how": "signed form",
        "grade": "intermediate",
    }
    with scopes_disabled():
        student: Student = Student.objects.create(studio=studio, name=name, **(fields | values))
    return student


def zone_where_it_is(local: int) -> str:
    """Choose the zone of whole hours in which it is between this hour and the next now."""
    hour = (datetime.now(UTC).hour - local) % 24
    # POSIX signs, as these names have them: "Etc/GMT+5" lies five hours west.
    return f"Etc/GMT+{hour}" if hour <= 12 else f"Etc/GMT-{24 - hour}"


def today(studio: Studio) -> date:
    return practice_day(studio, timezone.now())


def a_plan(student: Student | None = None, **changes: Any) -> BlockPlan:
    """Make the baseline of a student's instrument, with the given fields changed."""
    name = student.instrument if student else "trumpet_bb"
    setup = setup_of(student, name) if student else instruments.USUAL
    return replace(baseline(instruments.by_id(name), setup), **changes)


def a_block(
    student: Student,
    *,
    first_day: date | None = None,
    plan: BlockPlan | None = None,
    made_at: datetime | None = None,
    by: User | None = None,
    **values: Any,
) -> Block:
    """Make a block with its first version; without a first day it began seven days ago."""
    asked = plan or a_plan(student)
    begins = first_day or today(student.studio) - timedelta(days=7)
    moment = made_at or timezone.now() - timedelta(days=1)
    fields: dict[str, Any] = {
        "length_days": DEFAULT_LENGTH,
        "weekdays_off": [SUNDAY],
        "variant": Variant.BASELINE,
        "batch": new_public_id(),
    }
    with scopes_disabled():
        block: Block = Block.objects.create(
            student=student,
            instrument=asked.instrument,
            first_day=begins,
            made_at=moment,
            made_by=by,
            **(fields | values),
        )
        a_version(block, plan=asked, from_day=begins, by=by, moment=moment)
    return block


def a_version(
    block: Block,
    *,
    plan: BlockPlan,
    from_day: date,
    by: User | None = None,
    moment: datetime | None = None,
) -> BlockVersion:
    with scopes_disabled():
        # A row may be without its teacher, who may have left; the service never writes one so.
        return write_version(
            block,
            plan,
            from_day=from_day,
            by=by,  # type: ignore[arg-type]
            moment=moment or timezone.now(),
        )


def a_template(
    studio: Studio,
    *,
    name: str = "Horns in autumn",
    plan: BlockPlan | None = None,
    pitch: Pitch = Pitch.OWN,
    by: User | None = None,
    moment: datetime | None = None,
    removed_at: datetime | None = None,
    **kept: Any,
) -> Template:
    fields: dict[str, Any] = {"length_days": DEFAULT_LENGTH, "weekdays_off": frozenset({SUNDAY})}
    asked = Kept(plan=plan or a_plan(), pitch=pitch, **(fields | kept))
    with scopes_disabled():
        template = save_template(
            studio,
            asked,
            name=name,
            by=by,  # type: ignore[arg-type]
            moment=moment or timezone.now(),
        )
        if removed_at is not None:
            remove_template(template, moment=removed_at)
    return template


def a_check_in(
    student: Student,
    *,
    block: Block | None = None,
    day: date | None = None,
    key: UUID | None = None,
    grant: Grant | None = None,
    done_at: datetime | None = None,
    **answers: Any,
) -> CheckIn:
    """Make a check-in with all five answers; without a block one is made for it."""
    played = block or a_block(student)
    when = day or today(student.studio)
    done = done_at or datetime.combine(when, time(18), timezone.get_default_timezone())
    fields: dict[str, Any] = {
        "attack": 4,
        "sound": 4,
        "evenness": 3,
        "release": 4,
        "effort": 6,
        "discomfort": "none",
        "source": Source.PHONE,
        "received_at": done,
    }
    with scopes_disabled():
        check_in: CheckIn = CheckIn.objects.create(
            student=student,
            block=played,
            version=version_on(played, when),
            grant=grant,
            key=key or uuid4(),
            day=when,
            done_at=done,
            **(fields | answers),
        )
    return check_in


def the_answers(**changes: Any) -> dict[str, str]:
    """Write a complete check-in as the form sends it, apart from its day."""
    fields = {
        "attack": "4",
        "sound": "5",
        "evenness": "3",
        "release": "4",
        "effort": "6",
        "hurt": "no",
        "key": str(uuid4()),
    }
    return fields | {name: str(value) for name, value in changes.items()}


def a_not_today(
    student: Student, *, day: date | None = None, reason: NoSession = NoSession.NO_TIME
) -> NotToday:
    with scopes_disabled():
        row: NotToday = NotToday.objects.create(
            student=student,
            day=day or today(student.studio),
            reason=reason,
            told_at=timezone.now(),
        )
    return row


def a_discomfort(
    student: Student,
    *,
    day: date | None = None,
    place: str = Place.LIPS,
    how_much: str = HowMuch.MILD,
    **values: Any,
) -> Discomfort:
    with scopes_disabled():
        told: Discomfort = Discomfort.objects.create(
            student=student,
            key=uuid4(),
            day=day or today(student.studio),
            told_at=timezone.now(),
            place=place,
            how_much=how_much,
            **values,
        )
    return told


def an_interruption(
    student: Student, *, kind: str = "ill", first_day: date | None = None, **values: Any
) -> Interruption:
    with scopes_disabled():
        row: Interruption = Interruption.objects.create(
            student=student,
            kind=kind,
            first_day=first_day or today(student.studio),
            **values,
        )
    return row


def a_decision(block: Block, *, by: User | None = None, choice: str = "later") -> Decision:
    with scopes_disabled():
        decision: Decision = Decision.objects.create(
            student=block.student,
            block=block,
            by=by,
            decided_at=timezone.now(),
            choice=choice,
            seen={},
            key=uuid4(),
        )
    return decision


def next_block_of(decision: Decision) -> Block:
    assert decision.next_block is not None
    made: Block = decision.next_block
    return made


def an_offer(
    student: Student,
    *,
    token: str = "",
    kind: OfferKind = OfferKind.SENT,
    by: User | None = None,
    made_at: datetime | None = None,
    lasts: timedelta = timedelta(hours=72),
    **values: Any,
) -> Offer:
    made = made_at or timezone.now()
    with scopes_disabled():
        offer: Offer = Offer.objects.create(
            student=student,
            kind=kind,
            token_hash=secrets.hashed(token or secrets.new_secret()),
            made_by=by,
            made_at=made,
            expires_at=made + lasts,
            **values,
        )
    return offer


def a_grant(
    student: Student, *, state: GrantState = GrantState.CONFIRMED, **values: Any
) -> PairedPhone:
    """Make a phone that was set up an hour ago; `ENDED` and `REFUSED` ones are out already."""
    secret, made = secrets.new_secret(), timezone.now() - timedelta(hours=1)
    over = state in {GrantState.ENDED, GrantState.REFUSED}
    fields: dict[str, Any] = {
        "label": "Android phone",
        "made_at": made,
        "expires_at": made + timedelta(days=400),
        "ended_at": timezone.now() if over else None,
        "secret_is_new": state is GrantState.CONFIRMED,
    }
    with scopes_disabled():
        grant: Grant = Grant.objects.create(
            student=student, state=state, secret_hash=secrets.hashed(secret), **(fields | values)
        )
    return PairedPhone(grant=grant, cookie=f"{grant.public_id}.{secret}")


def a_phone(*paired: PairedPhone, **client: Any) -> Client:
    """Make a browser that shows the cookies of these phones, and nothing else.

    What a parent's phone holds is a cookie of its own.
    """
    browser = Client(**client)
    for name, reads in ((settings.PHONE_COOKIE_NAME, False), (settings.PARENT_COOKIE_NAME, True)):
        held = [one.cookie for one in paired if (one.grant.kind == GrantKind.PARENT) is reads]
        if held:
            browser.cookies[name] = "~".join(held)
    return browser


def signed_in(user: User, **client: Any) -> Client:
    """Make a browser in which a teacher has signed in."""
    browser = Client(**client)
    browser.force_login(user)
    return browser


def code_on(page: Any) -> str:
    """Read the code to type off a page that shows one."""
    found = re.search(r">(\w{3}-\w{3}-\w{3})<", page.content.decode())
    assert found is not None
    return found[1]
