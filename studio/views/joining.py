"""Becoming a teacher of a studio by an invitation, and going from one's one studio to the other."""

from django.contrib import messages
from django.db import IntegrityError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import access, limits
from studio.accounts import sign_in
from studio.addresses import address_of
from studio.forms import AccountForm
from studio.http import StudioRequest, TeacherRequest
from studio.models import Invitation, User
from studio.services import team
from studio.team_forms import JoinForm

INVITED = "invited_by"
GONE = gettext_lazy(
    "This invitation does not work. It may be used, called off or too old. Ask for a new one."
)


@require_http_methods(["GET", "POST"])
def join(request: StudioRequest) -> HttpResponse:
    """Take an invitation's secret. Looking does nothing; finding it uses nothing up yet."""
    form = JoinForm(request.POST if request.method == "POST" else None)
    status = 200
    if form.is_valid():
        limits.hold(limits.LINK_BY_ADDRESS, address_of(request), moment=timezone.now())
        found = team.find_invitation(form.cleaned_data["token"], moment=timezone.now())
        if found is not None:
            limits.give_back(limits.LINK_BY_ADDRESS, address_of(request))
            request.session[INVITED] = found.public_id
            return redirect("studio:join_studio")
        form.add_error("token", GONE)
        status = 410
    response = render(request, "studio/join.html", {"form": form}, status=status)
    response["Referrer-Policy"] = "same-origin"
    return response


@require_http_methods(["GET", "POST"])
def join_studio(request: StudioRequest) -> HttpResponse:
    """Say what the invitation is for, and join: signed in, or with a new account."""
    invitation = team.open_invitation(request.session.get(INVITED, ""), moment=timezone.now())
    if invitation is None:
        return redirect("studio:join")
    if request.user.is_authenticated:
        return _join_signed_in(request, request.user, invitation)
    form = AccountForm(
        request.POST if request.method == "POST" else None, initial={"email": invitation.email}
    )
    if form.is_valid():
        problem = _is_for_another(invitation, form.cleaned_data["email"])
        if not problem and (answer := _with_new_account(request, invitation, form)):
            return answer
        form.add_error("email", problem or _("If this is your e-mail, sign in first: see below."))
    return render(request, "studio/join_studio.html", {"invitation": invitation, "form": form})


def _join_signed_in(request: StudioRequest, user: User, invitation: Invitation) -> HttpResponse:
    problem = _is_for_another(invitation, user.email)
    if request.method == "POST" and not problem:
        try:
            place = team.join_studio(invitation, user=user, moment=timezone.now())
        except team.AlreadyThereError:
            problem = _("You teach in this studio already, so the invitation was not used up.")
        else:
            return _welcome(request, invitation) if place else redirect("studio:join")
    context = {"invitation": invitation, "form": None, "problem": problem}
    return render(request, "studio/join_studio.html", context)


def _is_for_another(invitation: Invitation, email: str) -> str:
    if invitation.email and invitation.email != email.lower():
        return _("This invitation is for %(email)s. Use that e-mail, or ask for a new one.") % {
            "email": invitation.email
        }
    return ""


def _with_new_account(
    request: StudioRequest, invitation: Invitation, form: AccountForm
) -> HttpResponse | None:
    """Make the account and join; None where somebody signs in with that e-mail already."""
    try:
        user = team.join_with_new_account(invitation, account=form.teacher, moment=timezone.now())
    except IntegrityError:
        return None
    if user is None:
        return redirect("studio:join")
    sign_in(request, user)
    return _welcome(request, invitation)


def _welcome(request: StudioRequest, invitation: Invitation) -> HttpResponse:
    request.session.pop(INVITED, None)
    request.session[access.OPENED_STUDIO] = invitation.studio.public_id
    messages.success(request, _("You teach in %(name)s now.") % {"name": invitation.studio.name})
    return redirect("progress:overview")


@access.for_member
@require_GET
def studios(request: TeacherRequest) -> HttpResponse:
    """List the studios in which this person teaches."""
    return render(request, "studio/studios.html", {"memberships": request.memberships})


@access.for_member
@require_POST
def open_studio(request: TeacherRequest, studio_id: str) -> HttpResponse:
    """Work in another of one's own studios."""
    place = access.open_studio(request, studio_id)
    messages.success(request, _("You are in %(name)s now.") % {"name": place.studio.name})
    return redirect("progress:overview")
