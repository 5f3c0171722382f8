"""The pages of the settings: each with one form, its effect in words, and "Saved"."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import access, phone
from studio.http import TeacherRequest
from studio.models import Grant
from studio.queries import in_use, told_apart
from studio.services import pairing, people
from studio.team_forms import CautionForm, LookForm, PrivacyForm, SignOutEverywhereForm
from studio.team_queries import phones_in_use

MOST_DIGITS = 19


@access.for_teacher
@require_http_methods(["GET", "POST"])
def assessment(request: TeacherRequest) -> HttpResponse:
    """Say how sure the program has to be before it says "may be ready"."""
    return _about_the_studio(request, CautionForm, "assessment")


@access.for_teacher
@require_http_methods(["GET", "POST"])
def privacy(request: TeacherRequest) -> HttpResponse:
    """Say how long check-ins are meant to be kept, and who reads what."""
    return _about_the_studio(request, PrivacyForm, "privacy")


def _about_the_studio(request: TeacherRequest, kind: type[forms.Form], place: str) -> HttpResponse:
    """Show and save one form whose fields are columns of the studio."""
    studio = request.membership.studio
    form = kind(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(studio, name) for name in kind.base_fields},
    )
    if form.is_valid():
        people.change_studio(studio, by=request.user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect(f"studio:settings_{place}")
    return _page(request, place, form=form)


@access.for_member
@require_http_methods(["GET", "POST"])
def look(request: TeacherRequest) -> HttpResponse:
    """Choose light or dark for oneself."""
    user = request.membership.user
    form = LookForm(request.POST if request.method == "POST" else None, initial={"look": user.look})
    if form.is_valid():
        people.change_look(user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("studio:settings_look")
    return _page(request, "look", form=form)


@access.for_teacher
@require_GET
def phones(request: TeacherRequest) -> HttpResponse:
    """List every phone that is in use in the studio."""
    students = list(phones_in_use(request.membership.studio))
    apart = told_apart(students, by_name_alone=True)
    listed = [(student, apart.get(student.pk, "")) for student in students]
    return _page(request, "phones", form=SignOutEverywhereForm(), students=listed)


@access.for_teacher
@require_POST
def sign_out_studio(request: TeacherRequest) -> HttpResponse:
    """Sign out every phone of every student, after a yes."""
    form = SignOutEverywhereForm(request.POST)
    if form.is_valid():
        for grant in Grant.objects.filter(in_use(timezone.now())):
            pairing.sign_out_phone(grant, moment=timezone.now(), by=request.user, among_all=True)
        messages.success(request, _("All phones are signed out. Check-ins already here stay."))
    else:
        messages.error(request, str(form.errors["sure"][0]))
    return redirect("studio:settings_phones")


@access.for_member
@require_GET
def sign_in(request: TeacherRequest) -> HttpResponse:
    """Show the password's door, the second step, and where this person is signed in."""
    kinds = {row.type: row for row in Authenticator.objects.filter(user=request.user)}
    codes = kinds.get(Authenticator.Type.RECOVERY_CODES)
    return _page(
        request,
        "sign_in",
        totp=kinds.get(Authenticator.Type.TOTP),
        codes_left=len(codes.wrap().get_unused_codes()) if codes else 0,
        sessions=[
            (row, phone.label(row.user_agent))
            for row in UserSession.objects.purge_and_list(request.user)
        ],
        this_session=request.session.session_key,
    )


@access.for_member
@require_POST
def end_sign_in(request: TeacherRequest) -> HttpResponse:
    """Sign this person out elsewhere: in one place, or in all others."""
    others = UserSession.objects.filter(user=request.user).exclude(
        session_key=request.session.session_key
    )
    given = request.POST.get("session", "")
    if given != "others":
        others = others.filter(pk=int(given)) if _is_a_number(given) else others.none()
    for row in others:
        row.end()
    messages.success(request, _("Signed out there. It asks for the password from now on."))
    return redirect("studio:settings_sign_in")


def _is_a_number(given: str) -> bool:
    """Whether this can be a row's number; more digits than that are not even counted out."""
    return given.isdecimal() and len(given) < MOST_DIGITS


def _page(request: TeacherRequest, place: str, **context: Any) -> HttpResponse:
    known = {"place": place, "studio": request.membership.studio}
    return render(request, f"studio/settings_{place}.html", known | context)
