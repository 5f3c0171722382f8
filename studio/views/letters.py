"""Stopping letters from the letter itself; and a teacher's own choice which to get."""

from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from studio import access, letter_stop
from studio.http import TeacherRequest
from studio.services import people
from studio.team_forms import LettersForm


# A mail program that stops letters by itself (RFC 8058) has no token of a page; the link's own
# signature lets nobody do more than stop these letters.
@csrf_exempt
@require_http_methods(["GET", "POST"])
def stop_letters(request: HttpRequest, token: str) -> HttpResponse:
    """Ask whether letters are to stop, and stop them; opening the link alone does nothing."""
    found = letter_stop.read(token)
    if found is None:
        return render(request, "studio/letters_stop.html", status=HTTPStatus.GONE)
    is_done = request.method == "POST"
    if is_done:
        people.stop_letters(*found)
    return render(request, "studio/letters_stop.html", {"token": token, "is_done": is_done})


@access.for_member
@require_http_methods(["GET", "POST"])
def letters(request: TeacherRequest) -> HttpResponse:
    """Choose which letters to get from this studio."""
    place = request.membership
    form = LettersForm(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(place, name) for name in LettersForm.base_fields},
    )
    if form.is_valid():
        people.choose_letters(place, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("studio:settings_letters")
    context = {"place": "letters", "studio": place.studio, "form": form}
    return render(request, "studio/settings_letters.html", context)
