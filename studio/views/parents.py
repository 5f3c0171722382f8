"""A parent's way in: a link that opens one phone once, and the phones a parent may sign out."""

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from studio import access, limits, phone
from studio.addresses import address_of
from studio.http import StudioRequest, TeacherRequest
from studio.queries import phones_of
from studio.services import pairing, people
from studio.words import GrantKind, GrantState


@require_http_methods(["GET", "POST"])
def parent(request: StudioRequest) -> HttpResponse:
    """Turn a link into a page for parents. Looking does nothing; only the button uses it up."""
    problem, status = "", 200
    if request.method == "POST" and phone.is_full(request, GrantKind.PARENT):
        problem, status = "full", 409
    elif request.method == "POST":
        limits.hold(limits.LINK_BY_ADDRESS, address_of(request), moment=timezone.now())
        # The link is used up together with all that follows from it, or not at all.
        with transaction.atomic():
            made = pairing.redeem(
                request.POST.get("token", "")[:100],
                label=phone.label(request.headers.get("User-Agent", "")),
                moment=timezone.now(),
                kind=GrantKind.PARENT,
            )
            if isinstance(made, pairing.Redeemed):
                limits.give_back(limits.LINK_BY_ADDRESS, address_of(request))
                welcome = redirect("progress:parent", made.grant.student.public_id)
                phone.remember(request, welcome, made)
                return welcome
        problem, status = ("full", 409) if made == "full" else ("gone", 410)
    context = {"problem": problem, "grants": access.parent_grants_of(request)}
    response = render(request, "studio/parent.html", context, status=status)
    response["Referrer-Policy"] = "no-referrer"
    patch_cache_control(response, no_store=True)
    return response


@access.for_parent
@require_http_methods(["GET", "POST"])
def parent_phones(request: StudioRequest) -> HttpResponse:
    """Show a parent the child's phones, and sign one out: the only thing a parent may do."""
    student = request.grant.student
    if request.grant.state != GrantState.CONFIRMED:
        raise Http404
    phones = phones_of(student)
    if request.method == "POST":
        found = phones.filter(public_id=request.POST.get("phone", "")[:16]).first()
        if found is not None:
            pairing.sign_out_phone(found, moment=timezone.now())
            messages.success(request, _("Signed out: %(phone)s.") % {"phone": _(found.label)})
        return redirect("studio:parent_phones", student.public_id)
    context = {"student": student, "phones": list(phones)}
    return render(request, "studio/parent_phones.html", context)


@access.for_teacher
@require_POST
def parents_see(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Choose whether the page for parents says that something hurt."""
    student = access.student_of(request.membership, student_id)
    see = request.POST.get("see") == "yes"
    people.change_student(student, by=request.user, parents_see_hurts=see)
    if see:
        messages.success(request, _("Saved. Parents see it when something hurts."))
    else:
        messages.success(request, _("Saved. Parents do not see when something hurts."))
    return redirect("progress:student", student.public_id)
