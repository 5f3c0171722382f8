"""The public pages and the answers to errors."""

import sys
from http import HTTPStatus
from logging import ERROR
from secrets import token_hex
from typing import Any

from django.conf import settings
from django.contrib.sessions.exceptions import SessionInterrupted
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.db import (
    DatabaseError,
    DataError,
    IntegrityError,
    InterfaceError,
    NotSupportedError,
    ProgrammingError,
)
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_safe

from studio import access, hearing, limits, log
from studio.accounts import sign_in
from studio.addresses import address_of
from studio.forms import FirstRunForm, OpenStudioForm
from studio.http import StudioRequest
from studio.middleware import wait_in_words
from studio.models import User
from studio.services import people, standing

MINUTE = 60
# Errors of the database that speak of a mistake in the program; all others, of the disk, the file,
# a lock or the server.
FAULTS_OF_OURS = (IntegrityError, DataError, ProgrammingError, NotSupportedError)


@require_GET
def home(request: StudioRequest) -> HttpResponse:
    """Send a teacher to the overview, a paired phone to its practice, others to the sign-in."""
    if request.user.is_authenticated:
        return redirect("progress:overview")
    if access.holds_a_cookie(request):
        return redirect("progress:who")
    if access.holds_a_parents_cookie(request):
        return redirect("studio:parent")
    if not User.objects.exists():
        return redirect("studio:first_run")
    return redirect("account_login")


@require_safe
def healthz(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view takes a request
    """Say ok where the studio can be read and written, and no more than "not ok" where not."""
    is_well = standing.answers()
    return HttpResponse(
        "ok" if is_well else "not ok",
        content_type="text/plain; charset=utf-8",
        status=HTTPStatus.OK if is_well else HTTPStatus.SERVICE_UNAVAILABLE,
    )


@require_GET
def help_page(request: HttpRequest) -> HttpResponse:
    """Show general information for teachers and students."""
    return render(request, "studio/help.html", {"help_is_open": True})


@require_GET
def help_numbers(request: HttpRequest) -> HttpResponse:
    """Say what each number means, and what the program works out."""
    return render(request, "studio/help_numbers.html", {"help_is_open": True})


@require_GET
def help_hearing(request: HttpRequest) -> HttpResponse:
    """Show the published limit on loud sound, as general information."""
    context = {"help_is_open": True, "rows": hearing.table()}
    return render(request, "studio/help_hearing.html", context)


@require_http_methods(["GET", "POST"])
def first_run(request: StudioRequest) -> HttpResponse:
    """Make the first studio, once, for whoever has the token from the console."""
    if User.objects.exists():
        raise Http404
    form = FirstRunForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        limits.hold(limits.LINK_BY_ADDRESS, address_of(request), moment=timezone.now())
        user = people.set_up_studio(
            token=form.cleaned_data["token"],
            moment=timezone.now(),
            studio=form.studio,
            teacher=form.teacher,
        )
        if user is not None:
            sign_in(request, user)
            return redirect("routines:add_student")
        form.add_error("token", _("This is not the token. Start Filar again to see a new one."))
    return render(request, "studio/first_run.html", {"form": form})


@require_http_methods(["GET", "POST"])
def open_a_studio(request: StudioRequest) -> HttpResponse:
    """Let a stranger open a studio of their own, where the site's setting says so."""
    if not settings.SIGN_UP:
        raise Http404
    form = OpenStudioForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        limits.hold(limits.STUDIOS_BY_ADDRESS, address_of(request), moment=timezone.now())
        try:
            user = people.make_studio(studio=form.studio, teacher=form.teacher)
        except IntegrityError:
            form.add_error("email", _("If this is your e-mail, sign in with it instead."))
        else:
            sign_in(request, user)
            return redirect("routines:add_student")
    status = 422 if form.is_bound else 200
    return render(request, "studio/open_a_studio.html", {"form": form}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that cannot be read, and one that is more than is read.

    Django also sends here whoever's sign-in could not be written down, whatever the reason.
    """
    if isinstance(exception, SessionInterrupted) and _came_of_trouble(exception):
        return _in_trouble(request)
    if isinstance(exception, RequestDataTooBig | TooManyFieldsSent | TooManyFilesSent):
        return render(request, "413.html", status=HTTPStatus.REQUEST_ENTITY_TOO_LARGE)
    return render(request, "400.html", status=400)


def _came_of_trouble(exception: BaseException) -> bool:
    """Whether a database that cannot write led to this, and not a row that is gone by now.

    Of a row that is gone Django itself says so, with an error that no other one has caused.
    """
    error: BaseException | None = exception
    while error is not None:
        is_gone = type(error) is DatabaseError and error.__cause__ is None
        if _is_trouble(error) and not is_gone:
            return True
        error = error.__cause__ or error.__context__
    return False


def _is_trouble(error: BaseException | None) -> bool:
    is_of_database = isinstance(error, DatabaseError | InterfaceError)
    return is_of_database and not isinstance(error, FAULTS_OF_OURS)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """Answer somebody who may look but not touch."""
    return render(request, "403.html", status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    """Answer an address that is not there, or not for whoever asks: the two look the same."""
    # A child whose phone was signed out must not be led to the teachers' sign-in.
    context = {
        "on_a_phone": access.holds_a_cookie(request),
        "on_a_parents_phone": access.holds_a_parents_cookie(request),
    }
    return render(request, "404.html", context, status=404)


def too_many(request: HttpRequest) -> HttpResponse:
    """Answer for the library that slows sign-ins down; our own limits answer in the middleware.

    It counts in the database, and takes one that it cannot write to for a crowd.
    """
    if not standing.answers():
        return _in_trouble(request)
    answer = render(request, "429.html", {"words": wait_in_words(MINUTE)}, status=429)
    answer["Retry-After"] = str(MINUTE)
    return answer


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a fault of ours without a trace of it, and a database that cannot write with 503.

    Django calls this while the error is being handled. What was being written is rolled back, so
    nothing is half there, and whoever waits a little can send it again.
    """
    error = sys.exc_info()[1]
    if not _is_trouble(error):
        # Stands on the page and in the log, and means nothing anywhere else.
        error_id = token_hex(4)
        log.write(
            "a fault of ours", request, status=500, level=ERROR, error_id=error_id, exc_info=error
        )
        return render(request, "500.html", {"error_id": error_id}, status=500)
    return _in_trouble(request)


def _in_trouble(request: HttpRequest) -> HttpResponse:
    """Say that the database cannot write just now, and when to come back."""
    if request.headers.get("Accept") == "application/json":
        words = _("The studio cannot save just now. Try again in a minute.")
        answer: HttpResponse = JsonResponse({"words": words}, status=503)
    else:
        answer = render(request, "503.html", status=503)
    answer["Retry-After"] = str(MINUTE)
    return answer


def csrf_failure(request: HttpRequest, **kwargs: Any) -> HttpResponse:  # noqa: ARG001
    """Answer a form that came without its token."""
    return render(request, "403_csrf.html", status=403)
