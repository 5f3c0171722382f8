"""The door: who sees whom. Every view is behind it or on the short list of public pages.

The door finds out who is there from the sign-in or from the phone's cookie, never from the
address, and opens the scope of that studio alone. Whoever has no business with a page gets the
same 404 as for an address that does not exist.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from functools import wraps
from http import HTTPStatus
from typing import Any
from zoneinfo import ZoneInfo

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django_scopes import scope, scopes_disabled

from studio import erased_meanwhile, secrets
from studio.http import StudioRequest
from studio.models import Grant, Membership, Student, Studio, User
from studio.queries import MOST_GRANTS_ON_A_PHONE, grants_held
from studio.words import GrantKind

SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}
OPENED_STUDIO = "opened_studio"
# Says to the phone's own worker that it may keep a page for a time without signal. Browsers and
# proxies keep nothing: that header stays "no-store".
MAY_BE_KEPT = "Filar-Keep"

# What a phone holds: the public id of a grant and its secret. Nothing else reaches the database.
_HELD = re.compile(r"([0-9a-f]{16})\.([\w-]{1,100})", re.ASCII)

View = Callable[..., HttpResponse]


def practice_day(studio: Studio, moment: datetime) -> date:
    """Say which practice day a moment belongs to: the studio's day ends after midnight."""
    local = moment.astimezone(ZoneInfo(studio.time_zone))
    ends = studio.day_ends_at
    return (local - timedelta(hours=ends.hour, minutes=ends.minute)).date()


def for_teacher(view: View) -> View:
    """Let a member of a studio in, with that studio's scope; send strangers to the sign-in.

    A cover teacher reads, and may change nothing.
    """
    return _for_members(view, may_send=lambda place: place.may_change)


def for_member(view: View) -> View:
    """Let a member of a studio in to what is their own: a cover teacher may send that as well."""
    return _for_members(view, may_send=lambda _place: True)


def for_owner(view: View) -> View:
    """Let every member read, and the owners alone say who teaches here."""
    return _for_members(view, may_send=lambda place: place.is_owner)


def _for_members(view: View, *, may_send: Callable[[Membership], bool]) -> View:
    @wraps(view)
    def behind_the_door(request: StudioRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_authenticated:
            if request.method not in SAFE_METHODS:
                # The way back must be a page that can be read, and nobody may think it was done.
                messages.warning(request, _("You were signed out, so nothing was saved."))
                return redirect_to_login(settings.LOGIN_REDIRECT_PATH)
            return redirect_to_login(request.get_full_path())
        request.memberships = memberships_of(request.user)
        if not request.memberships:
            raise Http404
        membership = _chosen(request)
        if settings.SECOND_FACTOR and not membership.has_second_factor:
            if request.method not in SAFE_METHODS:
                messages.warning(request, _("Nothing was saved. Set up the second step first."))
            return redirect("mfa_activate_totp")
        if request.method not in SAFE_METHODS and not may_send(membership):
            raise PermissionDenied
        request.membership = membership
        studio = membership.studio
        with (
            _inside(studio),
            erased_meanwhile.answered_as_later(
                lambda: erased_meanwhile.somebody_was_erased(studio)
            ),
        ):
            return view(request, *args, **kwargs)

    behind_the_door.door = "teacher"  # type: ignore[attr-defined]
    return behind_the_door


def for_phone(view: View) -> View:
    """Let a paired phone in for the student named in the address; all others get 404.

    So does a phone whose student is erased while it is being answered.
    """

    @wraps(view)
    def behind_the_door(
        request: StudioRequest, student_id: str, *args: Any, **kwargs: Any
    ) -> HttpResponse:
        request.grants = grants_of(request)
        for grant in request.grants:
            if grant.student.public_id == student_id:
                request.grant = grant
                with _beside(grant):
                    response = view(request, *args, **kwargs)
                if request.method == "GET":
                    let_be_kept(response, [grant])
                return response
        raise Http404

    behind_the_door.door = "phone"  # type: ignore[attr-defined]
    return behind_the_door


def for_parent(view: View) -> View:
    """Let a parent's phone in for the student named in the address; all others get 404.

    Such a phone opens no page of the student's, and a student's phone none of these. Whether the
    teacher has confirmed it is for the view to ask.
    """

    @wraps(view)
    def behind_the_door(
        request: StudioRequest, student_id: str, *args: Any, **kwargs: Any
    ) -> HttpResponse:
        for grant in parent_grants_of(request):
            if grant.student.public_id == student_id:
                request.grant = grant
                with _beside(grant):
                    return view(request, *args, **kwargs)
        raise Http404

    behind_the_door.door = "parent"  # type: ignore[attr-defined]
    return behind_the_door


def let_be_kept(response: HttpResponse, grants: Sequence[Grant]) -> None:
    """Let a phone keep a page it was shown; one that is set up "just this once" keeps nothing."""
    lasting = bool(grants) and all(grant.kind != GrantKind.ONCE for grant in grants)
    if lasting and response.status_code == HTTPStatus.OK:
        response.headers[MAY_BE_KEPT] = "yes"


def students_of(membership: Membership) -> QuerySet[Student]:
    """List the students a teacher works with, in the order of their names.

    Every teacher of a studio may see every student of it. "My students" is a filter over the
    lists, which each teacher sets for themselves; `student_of` finds the others all the same.
    """
    students: QuerySet[Student] = Student.objects.filter(
        studio=membership.studio, archived_on__isnull=True
    )
    if membership.own_students_only:
        students = students.filter(teacher=membership.user)
    return students.select_related("studio").order_by("name", "pk")


def student_of(membership: Membership, public_id: str) -> Student:
    """Find one student of the teacher's studio; a foreign or unknown name is a 404."""
    student = Student.objects.filter(studio=membership.studio, public_id=public_id).first()
    if student is None:
        raise Http404
    found: Student = student
    return found


def memberships_of(user: User) -> list[Membership]:
    """List the studios in which a person teaches today, the first one joined first.

    Read on every request, in one query, so that who was taken out is out at the next one. An end
    date is the last day by the studio's own clock.
    """
    totp = Authenticator.objects.filter(user=OuterRef("user"), type=Authenticator.Type.TOTP)
    with scopes_disabled():
        rows = list(
            Membership.objects.filter(user=user, ended_at__isnull=True)
            .select_related("studio", "user")
            .annotate(has_second_factor=Exists(totp))  # type: ignore[no-redef] # the model names it
            .order_by("pk")
        )
    moment = timezone.now()
    return [
        row
        for row in rows
        if row.ends_on is None or row.ends_on >= practice_day(row.studio, moment)
    ]


def open_studio(request: StudioRequest, public_id: str) -> Membership:
    """Work in another of one's own studios from now on; a foreign one is a 404."""
    for membership in request.memberships:
        if membership.studio.public_id == public_id:
            request.session[OPENED_STUDIO] = public_id
            return membership
    raise Http404


def grants_of(request: HttpRequest) -> list[Grant]:
    """List what this phone holds: grants that are neither ended nor expired, nor long unused.

    Read on every request, in one query, and never cached, so that a phone signed out by the
    teacher is out at its next request.
    """
    return _living(request, settings.PHONE_COOKIE_NAME, parents=False)


def parent_grants_of(request: HttpRequest) -> list[Grant]:
    """List what this phone may read as a parent's: neither ended nor expired, nor long unused."""
    return _living(request, settings.PARENT_COOKIE_NAME, parents=True)


def _living(request: HttpRequest, cookie_name: str, *, parents: bool) -> list[Grant]:
    cookie = request.COOKIES.get(cookie_name, "")
    found = filter(None, map(_HELD.fullmatch, cookie.split("~")))
    held = {each[1]: each[2] for each in found}
    if not held:
        return []
    with scopes_disabled():
        rows = grants_held(list(held)[:MOST_GRANTS_ON_A_PHONE], timezone.now(), parents=parents)
    return [
        row
        for row in rows
        if _is_its_secret(row, held[row.public_id]) and row.student.may_use_a_phone
    ]


def holds_a_cookie(request: HttpRequest) -> bool:
    """Whether this browser was ever set up as a phone, even if all of that has ended."""
    return settings.PHONE_COOKIE_NAME in request.COOKIES


def holds_a_parents_cookie(request: HttpRequest) -> bool:
    """Whether this browser was ever set up for a parent, even if that has ended."""
    return settings.PARENT_COOKIE_NAME in request.COOKIES


@contextmanager
def _inside(studio: Studio) -> Iterator[None]:
    """Open one studio's scope, and show times as its clocks do."""
    with scope(studio=studio), timezone.override(ZoneInfo(studio.time_zone)):
        yield


@contextmanager
def _beside(grant: Grant) -> Iterator[None]:
    """Open the scope of a phone's studio; a phone whose student is erased meanwhile gets 404."""
    with (
        _inside(grant.student.studio),
        erased_meanwhile.answered_as_later(lambda: not Grant.objects.filter(pk=grant.pk).exists()),
    ):
        yield


def _is_its_secret(grant: Grant, given: str) -> bool:
    return secrets.matches(given, grant.secret_hash) or (
        bool(grant.next_secret_hash) and secrets.matches(given, grant.next_secret_hash)
    )


def _chosen(request: StudioRequest) -> Membership:
    """Take the studio that this sign-in has opened, or the person's first one."""
    opened = request.session.get(OPENED_STUDIO)
    for membership in request.memberships:
        if membership.studio.public_id == opened:
            return membership
    return request.memberships[0]
