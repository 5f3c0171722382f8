"""Around every view: who is believed about addresses, and how "too many" is answered."""

from collections.abc import Callable
from http import HTTPStatus
from math import ceil

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import ngettext

from studio.addresses import is_listed
from studio.limits import TooManyError

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
FORWARDED = (
    "HTTP_X_FORWARDED_FOR",
    "HTTP_X_FORWARDED_PROTO",
    "HTTP_X_FORWARDED_HOST",
    "HTTP_X_FORWARDED_PORT",
    "HTTP_FORWARDED",
)


class ForwardedMiddleware:
    """Drops what a request says of its own way here, unless a listed proxy has handed it over."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Believe proxies of the settings, and a server on a socket of its own computer."""
        peer = request.META.get("REMOTE_ADDR") or ""
        if peer and not is_listed(peer):
            for name in FORWARDED:
                request.META.pop(name, None)
        return self.get_response(request)


class OwnPagesMiddleware:
    """Refuses what another site's page sends, by what the browser itself says of the request.

    `Sec-Fetch-Site` is written by browsers and cannot be set by a page (W3C, Fetch Metadata
    Request Headers). Where it is missing, the form's token and the origin decide alone.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let it through where it reads only, or comes from a page of ours or from no page."""
        sent_from = request.headers.get("Sec-Fetch-Site", "")
        if request.method not in SAFE_METHODS and sent_from in {"cross-site", "same-site"}:
            return render(request, "403_csrf.html", status=403)
        return self.get_response(request)


class TooManyMiddleware:
    """Answers whoever has to wait with 429, and says in words for how long."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the page be made."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Turn TooManyError into its page, or into words for a phone's outbox, which waits."""
        if not isinstance(error, TooManyError):
            return None
        words = wait_in_words(error.seconds)
        if request.headers.get("Accept") == "application/json":
            answer: HttpResponse = JsonResponse({"words": words}, status=429)
        else:
            answer = render(request, "429.html", {"words": words}, status=429)
        answer["Retry-After"] = str(error.seconds)
        return answer


def wait_in_words(seconds: int) -> str:
    """Say how long to wait, in whole minutes."""
    minutes = ceil(seconds / 60)
    return ngettext(
        "Too many tries. Wait %(minutes)s minute, then try again.",
        "Too many tries. Wait %(minutes)s minutes, then try again.",
        minutes,
    ) % {"minutes": minutes}


class MethodMiddleware:
    """Gives a page to an answer that says only that the address is not for that."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the page be made, and put words where there are none."""
        response = self.get_response(request)
        is_empty = not response.streaming and not response.content
        if response.status_code == HTTPStatus.METHOD_NOT_ALLOWED and is_empty:
            page = render(request, "405.html", status=HTTPStatus.METHOD_NOT_ALLOWED)
            page["Allow"] = response.headers.get("Allow", "")
            return page
        return response
