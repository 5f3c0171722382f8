"""What a student may do about the phone in their hand: move to another browser, or sign out."""

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from studio import access, limits, phone
from studio.http import StudioRequest
from studio.models import Grant
from studio.qr import drawn
from studio.services import pairing, typed_code
from studio.words import GrantKind, GrantState, OfferKind


@access.for_phone
@require_GET
def this_phone(request: StudioRequest) -> HttpResponse:
    """Show what this phone is set up for, and the two things that can be done about it."""
    context = {"student": request.grant.student, "may_move": _may_move(request.grant)}
    return render(request, "studio/this_phone.html", context)


@access.for_phone
@require_POST
def move(request: StudioRequest) -> HttpResponse:
    """Make a code of ten minutes for another browser, such as the one outside a chat app."""
    grant, moment = request.grant, timezone.now()
    if not _may_move(grant):
        raise PermissionDenied
    # By the student: a code makes a phone that might make the next one.
    limits.hold(limits.CODE_BY_PHONE, grant.student.public_id, moment=moment)
    made = pairing.make_offer(grant.student, kind=OfferKind.LESSON, by=None, moment=moment)
    link = f"{settings.ADDRESS}{reverse('studio:pair')}#{made.token}"
    context = {
        "student": grant.student,
        "code": typed_code.shown(made.code),
        "link": link,
        "qr": drawn(link),
        "typed_at": f"{settings.ADDRESS}{reverse('studio:pair')}",
    }
    return render(request, "studio/this_phone_code.html", context)


@access.for_phone
@require_POST
def sign_out(request: StudioRequest) -> HttpResponse:
    """Forget one student on this phone; the others on it stay. What was filed stays as well."""
    pairing.sign_out_phone(request.grant, moment=timezone.now())
    response = redirect("progress:who")
    phone.forget(request, response, request.grant)
    # The pages the phone kept go when it sees that it is set up for others only. What waits to be
    # sent is the phone's alone: its script asks before it drops any, and no header does it unasked.
    response["Clear-Site-Data"] = '"cache"'
    return response


def _may_move(grant: Grant) -> bool:
    """A phone that the teacher has confirmed may bring another one; one for an hour may not."""
    return grant.state == GrantState.CONFIRMED and grant.kind == GrantKind.STUDENT
