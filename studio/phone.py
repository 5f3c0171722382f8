"""The cookie of a paired phone: up to four students, each with a secret of its own."""

from datetime import date, timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext_noop

from studio import access, secrets
from studio.models import Grant
from studio.queries import MOST_GRANTS_ON_A_PHONE
from studio.services import pairing, phone_use
from studio.services.pairing import GRANT_DAYS, Redeemed
from studio.words import GrantKind


def label(user_agent: str) -> str:
    """Name the kind of phone in the teacher's list, and no more than the kind."""
    for sign, name in (
        ("iPhone", "iPhone"),
        ("iPad", "iPad"),
        ("Android", gettext_noop("Android phone")),
        ("Windows", gettext_noop("Windows computer")),
        ("Macintosh", "Mac"),
        ("Linux", gettext_noop("Linux computer")),
    ):
        if sign in user_agent:
            return name
    return gettext_noop("phone or computer")


def is_full(request: HttpRequest, kind: GrantKind = GrantKind.STUDENT) -> bool:
    """Whether this phone is set up for as many students as one phone may be."""
    return len(_held(request, kind)) >= MOST_GRANTS_ON_A_PHONE


def remember(request: HttpRequest, response: HttpResponse, made: Redeemed) -> None:
    """Add a student to the phone's cookie, and drop what is no longer alive.

    What a phone holds as a student's and what it holds as a parent's are cookies of their own.
    A phone that is set up again for a student holds the new grant alone. A "just this once" ends
    on the server after two hours, and with the browser unless the cookie holds a brother's or
    sister's grant too.
    """
    kind = GrantKind(made.grant.kind)
    living = {grant.public_id: grant for grant in _held(request, kind)}
    kept = []
    for part in _parts(request, kind):
        grant = living.get(part.partition(".")[0])
        if grant is None or grant.pk == made.grant.pk:
            continue
        if grant.student_id == made.grant.student_id:
            pairing.sign_out_phone(grant, moment=timezone.now())
            continue
        kept.append(part)
    parts = [*kept, f"{made.grant.public_id}.{made.secret}"]
    _write(response, parts, kind, once=kind is GrantKind.ONCE and not kept)


def forget(request: HttpRequest, response: HttpResponse, gone: Grant) -> None:
    """Take one student out of the phone's cookie, and leave the others on it."""
    kind = GrantKind(gone.kind)
    living = {grant.public_id for grant in _held(request, kind)} - {gone.public_id}
    parts = [part for part in _parts(request, kind) if part.partition(".")[0] in living]
    if parts:
        _write(response, parts, kind, once=False)
    else:
        response.delete_cookie(_cookie_name(kind), path="/", samesite="Lax")
        response.cookies[_cookie_name(kind)]["secure"] = settings.SESSION_COOKIE_SECURE


def secret_of(request: HttpRequest, grant: Grant) -> str:
    """Find the secret that this phone showed for a grant."""
    for part in _parts(request, GrantKind(grant.kind)):
        if part.startswith(f"{grant.public_id}."):
            return part.partition(".")[2]
    return ""


def _held(request: HttpRequest, kind: GrantKind) -> list[Grant]:
    if kind is GrantKind.PARENT:
        return access.parent_grants_of(request)
    return access.grants_of(request)


def _cookie_name(kind: GrantKind) -> str:
    name = settings.PARENT_COOKIE_NAME if kind is GrantKind.PARENT else settings.PHONE_COOKIE_NAME
    return str(name)


def _parts(request: HttpRequest, kind: GrantKind) -> list[str]:
    cookie = request.COOKIES.get(_cookie_name(kind), "")
    return [part for part in cookie.split("~") if part.count(".") == 1]


def _write(response: HttpResponse, parts: list[str], kind: GrantKind, *, once: bool) -> None:
    response.set_cookie(
        _cookie_name(kind),
        "~".join(parts),
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
        phone_use.note_use(grant, day=day)
    shown = secret_of(request, grant)
    if grant.next_secret_hash and secrets.matches(shown, grant.next_secret_hash):
        phone_use.settle_secret(grant, shown=shown)
    elif phone_use.wants_new_secret(grant) and response is not None:
        secret = phone_use.renew_secret(grant, shown=shown)
        remember(request, response, Redeemed(grant=grant, secret=secret))
