"""Who teaches in the studio: the list, inviting, changing, leaving, and handing a student over."""

from datetime import date

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import access, mail
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Invitation, Membership
from studio.services import team
from studio.team_forms import HandOverForm, InviteForm, RoleForm
from studio.team_queries import (
    happenings,
    open_invitations,
    students_and_teachers,
    teachers_of,
    who_may_teach,
)
from studio.words import OF_TEACHERS

LAST_OWNER = gettext_lazy(
    "Nothing was changed: %(name)s is the only owner. Make somebody else an owner first, "
    "so that the studio is never without one."
)


@access.for_teacher
@require_GET
def teachers(request: TeacherRequest) -> HttpResponse:
    """List who teaches here, who is invited, and who teaches whom."""
    studio, moment = request.membership.studio, timezone.now()
    listed = list(teachers_of(studio, practice_day(studio, moment)))
    context = {
        "teachers": listed,
        "invitations": open_invitations(studio, moment),
        "students": students_and_teachers(studio) if len(listed) > 1 else [],
        "happenings": happenings(studio, kinds=OF_TEACHERS),
    }
    return render(request, "studio/teachers.html", context)


@access.for_owner
@require_http_methods(["GET", "POST"])
def invite(request: TeacherRequest) -> HttpResponse:
    """Make a link for one new teacher, and show it this once."""
    form = InviteForm(request.POST if request.method == "POST" else None, today=_today(request))
    if not form.is_valid():
        return render(request, "studio/invite.html", {"form": form})
    made = team.invite_teacher(request.membership, moment=timezone.now(), **form.cleaned_data)
    link = f"{settings.ADDRESS}{reverse('studio:join')}#{made.token}"
    context = {"invitation": made.invitation, "link": link, "mailed": mail.invite(made, link=link)}
    return render(request, "studio/invited.html", context)


@access.for_owner
@require_POST
def call_off_invitation(request: TeacherRequest, invitation_id: str) -> HttpResponse:
    """End an invitation that nobody has used yet."""
    found = get_object_or_404(Invitation.objects, public_id=invitation_id)
    team.call_off_invitation(found, by=request.membership, moment=timezone.now())
    messages.success(request, _("Called off: the link does not work any more."))
    return redirect("studio:teachers")


@access.for_owner
@require_http_methods(["GET", "POST"])
def teacher(request: TeacherRequest, member_id: str) -> HttpResponse:
    """Change what one teacher may do here."""
    place = _place(member_id)
    form = RoleForm(
        request.POST if request.method == "POST" else None,
        initial={"role": place.role, "ends_on": place.ends_on},
        today=_today(request),
    )
    if form.is_valid():
        try:
            team.change_teacher(
                place, by=request.membership, moment=timezone.now(), **form.cleaned_data
            )
        except team.LastOwnerError:
            messages.error(request, LAST_OWNER % {"name": place.user})
        else:
            messages.success(
                request, _("Saved. It holds for %(user)s from now on.") % {"user": place.user}
            )
            return redirect("studio:teachers")
    return render(request, "studio/teacher.html", {"form": form, "place": place})


@access.for_owner
@require_POST
def remove_teacher(request: TeacherRequest, member_id: str) -> HttpResponse:
    """Take a teacher out of the studio."""
    place = _place(member_id)
    if place.pk == request.membership.pk:
        return _leave(request)
    students = team.end_membership(place, by=request.membership, moment=timezone.now())
    words = _("%(user)s is out and sees nothing of this studio any more.") % {"user": place.user}
    if students:
        left = ngettext(
            "%(number)d of the students has no teacher now.",
            "%(number)d of the students have no teacher now.",
            students,
        )
        words = f"{words} {left % {'number': students}}"
    messages.success(request, words)
    return redirect("studio:teachers")


@access.for_member
@require_POST
def leave(request: TeacherRequest) -> HttpResponse:
    """Leave the studio oneself, as everybody may but the only owner."""
    return _leave(request)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def hand_over(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Put a student with another teacher of this studio, with the whole history."""
    student = access.student_of(request.membership, student_id)
    form = HandOverForm(
        request.POST if request.method == "POST" else None,
        teachers=who_may_teach(request.membership.studio, _today(request)),
        initial={"to": _where(student.teacher_id, request)},
    )
    if form.is_valid():
        to = form.cleaned_data["to"]
        team.hand_over_student(student, to=to, by=request.membership, moment=timezone.now())
        said = _("%(name)s is with nobody in particular now. The whole history is there.")
        if to:
            said = _("%(name)s is with %(teacher)s now. The whole history is there.")
        messages.success(request, said % {"name": student.name, "teacher": to and to.user})
        return redirect("progress:student", student.public_id)
    return render(request, "studio/hand_over.html", {"form": form, "student": student})


@access.for_member
@require_POST
def whose_students(request: TeacherRequest, whose: str) -> HttpResponse:
    """Let this teacher's lists show their own students, or everybody's."""
    team.choose_whose_students(request.membership, own_only=whose == "mine")
    return redirect("progress:overview")


def _leave(request: TeacherRequest) -> HttpResponse:
    """End one's own place; lead on to another studio, or sign out who has none."""
    place = request.membership
    try:
        team.end_membership(place, by=place, moment=timezone.now())
    except team.LastOwnerError:
        messages.error(request, LAST_OWNER % {"name": place.user})
        return redirect("studio:teachers")
    others = len(request.memberships) > 1
    if not others:
        logout(request)
    name = place.studio.name
    messages.success(
        request, _("You have left %(name)s. What you wrote there stays with it.") % {"name": name}
    )
    return redirect("progress:overview" if others else "account_login")


def _today(request: TeacherRequest) -> date:
    return practice_day(request.membership.studio, timezone.now())


def _place(member_id: str) -> Membership:
    found: Membership = get_object_or_404(
        Membership.objects.select_related("user", "studio"),
        public_id=member_id,
        ended_at__isnull=True,
    )
    return found


def _where(user_id: int | None, request: TeacherRequest) -> str:
    """Name the place of a student's teacher in this studio, or nothing."""
    place = Membership.objects.filter(
        studio=request.membership.studio, user=user_id, ended_at__isnull=True
    ).first()
    return place.public_id if place else ""
