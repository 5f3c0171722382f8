"""Setting up a phone, and signing it out."""

import re
from datetime import datetime
from typing import Any, Literal

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from studio import access, limits, phone
from studio.addresses import address_of
from studio.http import StudioRequest, TeacherRequest
from studio.models import Grant, Offer, Student, new_public_id
from studio.qr import drawn
from studio.queries import phones_of
from studio.services import pairing, typed_code
from studio.words import GrantKind, GrantState, OfferKind

LISTS = {"settings": "studio:settings_phones", "overview": "progress:overview"}
PUBLIC_ID = re.compile(r"[0-9a-f]{16}", re.ASCII)
REFUSED = gettext_lazy(
    "Refused: the %(phone)s is out, and what it filed is set aside. "
    "For ten minutes you can take this back, under Phones."
)
REFUSED_PARENT = gettext_lazy(
    "Refused: nothing was shown on it. A new link sets the right phone up."
)
LEFT = gettext_lazy("Noted: the %(phone)s was %(name)s’s. It is out by now; what it filed stays.")
OVER = gettext_lazy("Nothing changed: the %(phone)s was signed out or refused before.")


@require_http_methods(["GET", "POST"])
def pair(request: StudioRequest) -> HttpResponse:
    """Turn a link into a set-up phone. Looking does nothing; only the button uses the link up."""
    problem, status = "", 200
    if request.method == "POST" and phone.is_full(request):
        problem, status = "four", 409
    elif request.method == "POST":
        moment = timezone.now()
        limits.hold(limits.LINK_BY_ADDRESS, address_of(request), moment=moment)
        # Looking at a code takes a while. Nobody's writing waits for it: no transaction is open.
        code = typed_code.read(request.POST.get("code", "")[:40])
        offer = pairing.offer_of_code(code, moment=moment)
        # The link is used up together with all that follows from it, or not at all.
        with transaction.atomic():
            made = _redeemed(request, offer, moment)
            if isinstance(made, pairing.Redeemed):
                limits.give_back(limits.LINK_BY_ADDRESS, address_of(request))
                welcome = redirect("progress:today", made.grant.student.public_id)
                phone.remember(request, welcome, made)
                return welcome
        problem, status = ("full", 409) if made == "full" else ("gone", 410)
    response = render(request, "studio/pair.html", {"problem": problem}, status=status)
    response["Referrer-Policy"] = "no-referrer"
    patch_cache_control(response, no_store=True)
    return response


def _redeemed(
    request: StudioRequest, offer: Offer | None, moment: datetime
) -> pairing.Redeemed | Literal["full"] | None:
    """Use up what was sent: the offer of a code that was typed, else the token of a link."""
    how: dict[str, Any] = {
        "label": phone.label(request.headers.get("User-Agent", "")),
        "moment": moment,
        "kind": GrantKind.ONCE if request.POST.get("once") == "yes" else GrantKind.STUDENT,
    }
    if request.POST.get("code"):
        return pairing.redeem_offer(offer, **how) if offer else None
    return pairing.redeem(request.POST.get("token", "")[:100], **how)


@access.for_teacher
@require_POST
def offer(request: TeacherRequest, student_id: str, kind: str) -> HttpResponse:
    """Make a link or a code for one phone and show it this once, also when loaded again."""
    student = access.student_of(request.membership, student_id)
    if refused := _no_offer(request, student):
        return refused
    given = request.POST.get("key", "")
    context = {"student": student, "kind": kind, "key": new_public_id()}
    try:
        made = pairing.make_offer(
            student,
            kind=OfferKind(kind),
            by=request.user,
            moment=timezone.now(),
            name=given if PUBLIC_ID.fullmatch(given) else "",
        )
    except pairing.AlreadyMadeError:
        return render(request, "studio/offer_shown.html", context)
    page = "studio:parent" if made.offer.kind == OfferKind.PARENT else "studio:pair"
    link = f"{settings.ADDRESS}{reverse(page)}#{made.token}"
    context |= {"offer": made.offer, "link": link, "qr": drawn(link)}
    context |= {"code": typed_code.shown(made.code), "typed_at": f"{settings.ADDRESS}/pair"}
    return render(request, "studio/offer.html", context)


def _no_offer(request: TeacherRequest, student: Student) -> HttpResponse | None:
    """Say why a student gets no phone, or None where one may be set up."""
    if student.archived_on is not None:
        messages.error(
            request,
            _("No link made. %(name)s is off the lists: bring %(name)s back first.")
            % {"name": student.name},
        )
        return redirect("routines:students")
    if not student.may_use_a_phone:
        messages.error(
            request,
            _(
                "No link made. %(name)s is a child and no parent's yes is noted. Write it down "
                "under Change details, or use paper until then."
            )
            % {"name": student.name},
        )
        return redirect("progress:student", student.public_id)
    return None


@access.for_teacher
@require_POST
def answer_phone(request: TeacherRequest, grant_id: str, answer: str) -> HttpResponse:
    """Confirm a phone, refuse it, take the refusal back, or sign it out."""
    grant = get_object_or_404(Grant.objects.select_related("student"), public_id=grant_id)
    moment, reads = timezone.now(), grant.kind == GrantKind.PARENT
    said = {"name": grant.student.name, "phone": _(grant.label)}
    if answer == "confirm":
        pairing.confirm_phone(grant, moment=moment, by=request.user)
        parents, own = _("Confirmed: a parent’s %(phone)s."), _("Confirmed: %(name)s’s %(phone)s.")
        if grant.state == GrantState.CONFIRMED:
            messages.success(request, (parents if reads else own) % said)
        elif grant.confirmed_at == moment:
            messages.success(request, LEFT % said)
        else:
            messages.warning(request, OVER % said)
    elif answer == "refuse":
        pairing.refuse_phone(grant, moment=moment, by=request.user)
        if grant.state == GrantState.REFUSED:
            messages.success(request, (REFUSED_PARENT if reads else REFUSED) % said)
        else:
            messages.warning(request, OVER % said)
    elif answer == "take-back":
        _take_back(request, grant)
    else:
        pairing.sign_out_phone(grant, moment=moment, by=request.user)
        parents = _("Signed out: a parent’s %(phone)s. It shows nothing any more.")
        own = _("Signed out: %(name)s’s %(phone)s. Its check-ins stay.")
        messages.success(request, (parents if reads else own) % said)
    # Where several phones stand in one list, the next one is at hand.
    if (listed := LISTS.get(request.POST.get("from", ""))) is not None:
        return redirect(listed)
    return redirect("progress:student", grant.student.public_id)


def _take_back(request: TeacherRequest, grant: Grant) -> None:
    if pairing.take_back_refusal(grant, moment=timezone.now(), by=request.user):
        goes_on = _("Taken back: the %(phone)s goes on, and what it filed counts again.")
        out = _("Taken back: what the %(phone)s filed counts again. It stays out.")
        messages.success(request, (out if grant.is_out else goes_on) % {"phone": _(grant.label)})
    else:
        messages.warning(
            request,
            _(
                "Not taken back. It was refused over ten minutes ago, or three other phones "
                "are in use by now. A new link sets the phone up again."
            ),
        )


@access.for_teacher
@require_POST
def sign_out_all(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Sign out every phone of one student at once."""
    student: Student = access.student_of(request.membership, student_id)
    for grant in phones_of(student):
        pairing.sign_out_phone(grant, moment=timezone.now(), by=request.user, among_all=True)
    messages.success(request, _("All phones are signed out. Check-ins already here stay."))
    return redirect("progress:student", student.public_id)
