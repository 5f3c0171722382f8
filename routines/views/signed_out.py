"""A builder whose sign-in ran out: nothing is assigned, and what was typed waits."""

from collections.abc import Iterable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_htmx.http import reselect, reswap, retarget

from routines.forms.blocks import KEPT_FIELDS
from studio.access import View
from studio.http import StudioRequest
from studio.models import Student

TYPED = "typed_block"
MOST_VALUES, MOST_LETTERS = 400, 600


def keep_what_was_typed(view: View) -> View:
    """Keep a block that is sent after the sign-in ran out, and say so where the page is open.

    The door behind it still decides about everybody who is signed in, and about plain reading.
    """

    @wraps(view)
    def with_the_block_kept(request: StudioRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.user.is_authenticated:
            return view(request, *args, **kwargs)
        ticked = bool(request.POST.getlist("students"))
        if request.htmx:
            answer = render(request, "routines/_signed_out.html", {"ticked": ticked})
            return reselect(reswap(retarget(answer, "#preview-notice"), "innerHTML"), "#signed-out")
        if ticked:
            request.session[TYPED] = {
                name: [value[:MOST_LETTERS] for value in request.POST.getlist(name)[:MOST_VALUES]]
                for name in KEPT_FIELDS
                if name in request.POST
            }
            messages.warning(
                request,
                _(
                    "You were signed out, so nothing was assigned. Sign in: what you typed "
                    "comes back."
                ),
            )
            return redirect_to_login(reverse("routines:assign"))
        return view(request, *args, **kwargs)

    return with_the_block_kept


def say_signed_out(view: View) -> View:
    """Say in an open page's preview that the sign-in ran out; nothing there is kept."""

    @wraps(view)
    def with_the_words(request: StudioRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.htmx and not request.user.is_authenticated:
            answer = render(request, "routines/_signed_out_change.html", {"back": request.path})
            return reselect(reswap(retarget(answer, "#preview-notice"), "innerHTML"), "#signed-out")
        return view(request, *args, **kwargs)

    return with_the_words


def typed_before(request: StudioRequest, students: Iterable[Student]) -> QueryDict | None:
    """Hand back, once, what was typed before the sign-in; to the studio it was typed in alone."""
    kept = request.session.pop(TYPED, None)
    if kept is None or not set(kept["students"]) <= {row.public_id for row in students}:
        return None
    typed = QueryDict(mutable=True)
    for name, values in kept.items():
        typed.setlist(name, values)
    return typed
