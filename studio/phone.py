"""The cookie of a paired phone: up to four students, each with a secret of its own."""

from datetime import date, timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from studio import secrets
from studio.access import MOST_GRANTS_ON_A_PHONE
from studio.models import Grant
from studio.services import pairing
from studio.services.pairing import GRANT_DAYS, Redeemed


def label(user_agent: str) -> str:
    """Name the kind of phone in the teacher's list, and no more than the kind."""
    for sign, name in (
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Android", "Android phone"),
        ("Windows", "Windows computer"),
        ("Macintosh", "Mac"),
        ("Linux", "Linux computer"),
    ):
        if sign in user_agent:
            return name
    return "phone or computer"


def remember(request: HttpRequest, response: HttpResponse, made: Redeemed) -> None:
    """Add a student to the phone's cookie; the oldest of more than four falls out."""
    kept = [part for part in _parts(request) if not part.startswith(f"{made.grant.public_id}.")]
    _write(response, [*kept, f"{made.grant.public_id}.{made.secret}"], once=_is_once(made.grant))


def forget(request: HttpRequest, response: HttpResponse, grant: Grant) -> None:
    """Take one student off the phone's cookie; the others stay."""
    kept = [part for part in _parts(request) if not part.startswith(f"{grant.public_id}.")]
    _write(response, kept, once=False)


def secret_of(request: HttpRequest, grant: Grant) -> str:
    """Find the secret that this phone showed for a grant."""
    for part in _parts(request):
        if part.startswith(f"{grant.public_id}."):
            return part.partition(".")[2]
    return ""


def _is_once(grant: Grant) -> bool:
    return grant.kind == "once"


def _parts(request: HttpRequest) -> list[str]:
    cookie = request.COOKIES.get(settings.PHONE_COOKIE_NAME, "")
    return [part for part in cookie.split("~") if part.count(".") == 1]


def _write(response: HttpResponse, parts: list[str], *, once: bool) -> None:
    response.set_cookie(
        settings.PHONE_COOKIE_NAME,
        "~".join(parts[-MOST_GRANTS_ON_A_PHONE:]),
        max_age=None if once else timedelta(days=GRANT_DAYS),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
        path="/",
    )


def keep_fresh(
    request: HttpRequest, response: HttpResponse | None, grant: Grant, *, day: date
) -> None:
    """Note the day a phone was last used, and renew a confirmed phone's secret once.

    Without a response only the day is noted: a new secret must reach the phone.
    """
    if grant.last_day != day:
        pairing.note_use(grant, day=day)
    if grant.next_secret_hash and secrets.matches(
        secret_of(request, grant), grant.next_secret_hash
    ):
        pairing.settle_secret(grant)
    elif pairing.wants_new_secret(grant) and response is not None:
        secret = pairing.renew_secret(grant)
        remember(request, response, Redeemed(grant=grant, secret=secret))
