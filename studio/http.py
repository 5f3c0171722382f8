"""What every request and answer carries."""

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django_htmx.middleware import HtmxDetails

from studio.models import Grant, Membership, User

PERMISSIONS = ", ".join(
    [
        *(f"{name}=()" for name in ("camera", "microphone", "geolocation", "payment", "usb")),
        *(f"{name}=()" for name in ("midi", "accelerometer", "gyroscope")),
        "screen-wake-lock=(self)",  # the session needs it
        "autoplay=(self)",
    ]
)


class StudioRequest(HttpRequest):
    """A request with what the middleware and the door have put on it."""

    user: User | AnonymousUser
    htmx: HtmxDetails
    membership: Membership
    memberships: list[Membership]
    grant: Grant
    grants: list[Grant]


class TeacherRequest(StudioRequest):
    """A request that has passed the teachers' door: somebody is signed in."""

    user: User


class HeadersMiddleware:
    """Adds the headers that no other middleware of ours writes, on every answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the page be made, then add the headers; a page's own choice stays."""
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        response.headers.setdefault("X-Frame-Options", settings.X_FRAME_OPTIONS)
        response.headers.setdefault("X-Robots-Tag", "noindex, nofollow")
        if response.headers.get("Content-Type", "").startswith(("text/html", "application/json")):
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class NoBodyMiddleware:
    """Takes the body off where none is sent (RFC 9110, sections 9.3.2 and 15.4.5).

    The server would drop it anyway, and write a line into the log each time. To compress nothing
    makes a few bytes too, so this stands around that.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the page be made, and keep what it says of itself."""
        response = self.get_response(request)
        is_unchanged = response.status_code == HTTPStatus.NOT_MODIFIED
        if is_unchanged:
            # What is not sent is not compressed either.
            response.headers.pop("Content-Encoding", None)
        if is_unchanged or request.method == "HEAD":
            if response.streaming:
                response.streaming_content = ()  # type: ignore[attr-defined]
            else:
                response.content = b""
        return response


def as_download(content: bytes, name: str, content_type: str) -> HttpResponse:
    """Give a file to keep; it is nobody's page, so no browser is to show or store it."""
    response = HttpResponse(content, content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def membership(request: HttpRequest) -> dict[str, Any]:
    """Give templates the teacher's place in the studio, or None for everybody else.

    `may_change` says whether whoever reads the page may send its forms; no page shows a cover
    teacher a form or a way to one. `theme` is the look that the reader has chosen, if any.
    """
    found: Membership | None = getattr(request, "membership", None)
    return {
        "membership": found,
        "may_change": found is not None and found.may_change,
        "has_other_studios": len(getattr(request, "memberships", ())) > 1,
        "theme": found.user.look if found else "",
        "second_step_is_asked": settings.SECOND_FACTOR,
        "sign_up_is_open": settings.SIGN_UP,
    }
