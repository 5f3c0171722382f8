"""How long a teacher's sign-in lasts, and in how many places at once.

Twelve hours without use, thirty days in any case, five places. The first is the age of the
session; each use puts it off, written down every ten minutes at most, so that reading a page does
not mean a write each time.
"""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from allauth.usersessions.models import UserSession
from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models import User

LONGEST = timedelta(days=30)
NOTED_EVERY = timedelta(minutes=10)
MOST_PLACES = 5
BEGAN, SEEN = "began", "seen"
OLDEST_ENDED = _(
    "You were signed in at five places already, so the oldest was signed out. "
    "Settings, Your sign-in shows them all."
)


@receiver(user_logged_in)
def note_sign_in(request: HttpRequest, **_more: Any) -> None:
    """Note when a sign-in began; the session has a new key by then."""
    request.session[BEGAN] = request.session[SEEN] = timezone.now().isoformat()


class SessionTimesMiddleware:
    """Signs a teacher out once the sign-in is too old; use puts the idle time off."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Look at the times before the page is made."""
        if request.user.is_authenticated:
            _look_at_times(request, timezone.now())
        return self.get_response(request)


def _look_at_times(request: HttpRequest, moment: datetime) -> None:
    if BEGAN not in request.session:  # signed in before these times were noted
        request.session[BEGAN] = moment.isoformat()
    if moment - datetime.fromisoformat(request.session[BEGAN]) >= LONGEST:
        logout(request)
        return
    seen = request.session.get(SEEN)
    if seen is None or moment - datetime.fromisoformat(seen) >= NOTED_EVERY:
        request.session[SEEN] = moment.isoformat()


def end_oldest(user: User) -> int:
    """End the oldest of a teacher's sign-ins where there are more than allowed; say how many."""
    places = sorted(
        UserSession.objects.purge_and_list(user), key=lambda place: (place.created_at, place.pk)
    )
    too_many = places[: max(0, len(places) - MOST_PLACES)]
    for place in too_many:
        place.end()
    return len(too_many)
