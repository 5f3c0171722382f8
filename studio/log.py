"""What the log says of a request: who by an id, where by the address's name, and how it ended.

Written down are answers that refuse or fail, limits that were reached, sign-ins and phones that
were set up. Reading and filing as usual leaves no line.
"""

import logging
from collections.abc import Callable
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse

from studio.models import Grant, User

LOG = logging.getLogger("filar")
REFUSED = {
    400: "not understood",
    403: "refused",
    404: "not found",
    405: "method not taken",
    409: "was changed meanwhile",
    410: "link used or unknown",
    413: "too large",
    429: "held up",
    503: "database not there",
}
# What went well and is written down all the same: an address, and what was done there.
DONE = {
    "studio:pair": "phone set up",
    "studio:parent": "parent's phone set up",
    "studio:join_studio": "joined a studio",
    "studio:first_run": "studio made",
    "studio:answer_phone": "phone answered",
    "studio:sign_out_all": "phones signed out",
    "studio:sign_out_studio": "all phones signed out",
    "progress:studio_copy": "whole studio copied",
}


class LogMiddleware:
    """Writes a line for an answer that refuses or fails, and for some that went well."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the answer be made, then say how it ended; a fault of ours has said so itself."""
        response = self.get_response(request)
        event = REFUSED.get(response.status_code, "")
        if not event and request.method not in {"GET", "HEAD", "OPTIONS"}:
            event = DONE.get(where(request), "") if response.status_code < 400 else ""
        if event:
            write(event, request, status=response.status_code)
        return response


def write(
    event: str, request: HttpRequest, *, status: int, level: int = logging.INFO, **more: Any
) -> None:
    """Write one line: the event, and of the request nothing but ids and names of ours."""
    said = {"event": event, "who": who(request), "where": where(request), "status": status}
    method = request.method if request.method in METHODS else "other"
    exc_info = more.pop("exc_info", None)
    LOG.log(level, event, extra=said | {"method": method} | more, exc_info=exc_info)


METHODS = {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"}


def who(request: HttpRequest) -> str:
    """Name who asked by an id, without asking the database: a teacher, a phone, or nobody known."""
    grant = getattr(request, "grant", None)
    if isinstance(grant, Grant):
        return f"phone {grant.public_id}"
    # What the sign-in has found already; an error page must not ask again.
    user = request.__dict__.get("_cached_user")
    return f"teacher {user.pk}" if isinstance(user, User) else "nobody known"


def where(request: HttpRequest) -> str:
    """Name the address by its name in the program; the path itself may carry a secret."""
    match = request.resolver_match
    return match.view_name if match else "no address of ours"


@receiver(user_logged_in)
def signed_in(request: HttpRequest, user: User, **_others: Any) -> None:
    """A teacher came in."""
    LOG.info("signed in", extra=_of_sign_in("signed in", request, f"teacher {user.pk}"))


@receiver(user_logged_out)
def signed_out(request: HttpRequest, user: User | None, **_others: Any) -> None:
    """A teacher went out."""
    by = f"teacher {user.pk}" if user else "nobody known"
    LOG.info("signed out", extra=_of_sign_in("signed out", request, by))


@receiver(user_login_failed)
def not_signed_in(request: HttpRequest | None = None, **_others: Any) -> None:
    """A sign-in was not taken; which account was tried is not written down."""
    said = _of_sign_in("sign-in not taken", request, "nobody known")
    LOG.warning("sign-in not taken", extra=said)


def _of_sign_in(event: str, request: HttpRequest | None, by: str) -> dict[str, Any]:
    return {"event": event, "who": by, "where": where(request) if request else "a command"}
