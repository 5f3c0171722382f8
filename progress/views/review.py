"""The month-end review: one student after another, and what the teacher decides."""

from datetime import datetime
from http import HTTPStatus
from uuid import uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.engine.choices import Choice, session_of
from progress.forms.decisions import Ask, DecisionForm, as_pressed, signed
from progress.models import Decision
from progress.queries.decisions import next_block_changed_at, standing_of
from progress.services.decisions import (
    CHOICE_WORDS,
    DecisionError,
    Verdict,
    decide,
    undo_decision,
)
from progress.views.review_page import (
    ReviewPage,
    decided_lately,
    due_in,
    first_of,
    review_page,
)
from routines.forms.plan import PlanForm, as_fields
from routines.models import Block
from routines.sheet import naming_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import User
from studio.words import day_in_words


@access.for_teacher
@require_GET
def review(request: TeacherRequest) -> HttpResponse:
    """Open the first month that is ending; without one say so."""
    moment = timezone.now()
    listed = due_in(request.membership, practice_day(request.membership.studio, moment))
    if (first := first_of(listed)) is not None:
        return redirect("progress:review_block", first.block.public_id)
    context = {
        "listed": listed,
        "lately": decided_lately(request.membership, moment),
        "review_is_open": True,
    }
    return render(request, "progress/review_done.html", context)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def review_block(request: TeacherRequest, block_id: str) -> HttpResponse:
    """Show one month at its end, and take the decision about it."""
    page = _page(request, block_id)
    form = _form(request, page)
    if not form.is_bound:
        return _shown(request, page, form)
    decided = _decided(request.user, page, form)
    if not isinstance(decided, Decision):
        return _shown(request, _page(request, block_id), form, status=decided)
    messages.success(request, _said(decided))
    following = page.listed.next_after(page.block)
    # A browser carries the form's own fragment along, unless the way on has one.
    if following is None:
        return redirect(f"{reverse('progress:review')}#main")
    address = reverse("progress:review_block", args=[following.block.public_id])
    return redirect(f"{address}#main")


def _decided(by: User, page: ReviewPage, form: DecisionForm) -> Decision | int:
    """Take the decision, or say with which status the page comes back."""
    if not form.is_valid():
        return 422
    shown = form.cleaned_data["seen"]
    if page.has_changed_since(shown):
        form.add_error(None, _("Something new came in since this page was opened: look first."))
        form.ask_again()
        return 409
    if form.asks is not Ask.NOTHING:
        return 200
    try:
        return decide(page.block, _verdict(by, page, form))
    except DecisionError as error:
        form.add_error(None, str(error))
        form.ask_again()
        return 409


@access.for_teacher
@require_POST
def undo(request: TeacherRequest, decision_id: str) -> HttpResponse:
    """Take a decision back within ten minutes, with the block it made."""
    found = get_object_or_404(
        Decision.objects.select_related("block", "student"), public_id=decision_id
    )
    changed_at = next_block_changed_at(found)
    try:
        undo_decision(found, moment=timezone.now())
    except DecisionError as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, _taken_back(found.student.name, changed_at))
    return redirect("progress:review_block", found.block.public_id)


def _page(request: TeacherRequest, block_id: str) -> ReviewPage:
    here = Block.objects.filter(student__archived_on__isnull=True)
    block = get_object_or_404(here.select_related("student__studio"), public_id=block_id)
    moment = timezone.now()
    day = practice_day(request.membership.studio, moment)
    if day < block.first_day or block.last_day < block.first_day:
        raise Http404
    return review_page(request.membership, block, day=day, moment=moment)


def _form(request: TeacherRequest, page: ReviewPage) -> DecisionForm:
    data = as_pressed(request.POST) if request.method == "POST" else None
    typed = data if data is not None and "hold" in data else None
    student = page.block.student
    return DecisionForm(
        data,
        name=student.name,
        today=page.today,
        offered=page.offered,
        plan_form=PlanForm(
            typed,
            initial=as_fields(page.today),
            instrument=page.today.instrument,
            setup=page.today.setup,
            naming=naming_of(student),
        ),
    )


def _shown(
    request: TeacherRequest, page: ReviewPage, form: DecisionForm, *, status: int = 200
) -> HttpResponse:
    """Show the page, with what is still to be asked and all that was typed."""
    context = {
        "student": page.block.student,
        "page": page,
        "form": form,
        # What was refused is another decision when it is sent again.
        "key": uuid4() if status == HTTPStatus.CONFLICT else form["key"].value(),
        "plan_form": form.plan_form,
        "asks": form.asks.value,
        "chosen": form["choice"].value(),
        "session": session_of(form.plan, page.facts.reached) if form.plan else None,
        "choices": CHOICE_WORDS.items(),
        "seen": signed(page.seen),
        "decision": standing_of(page.block),
        "review_is_open": True,
    }
    return render(request, "progress/review.html", context, status=status)


def _verdict(by: User, page: ReviewPage, form: DecisionForm) -> Verdict:
    data = form.cleaned_data
    return Verdict(
        choice=data["choice"],
        by=by,
        moment=timezone.now(),
        today=page.month.day,
        key=data["key"],
        seen=data["seen"],
        plan=form.plan,
        variables=form.variables,
        reason=data["reason"].strip(),
        shown_to_student=data["shown"] and bool(data["reason"].strip()),
    )


def _taken_back(name: str, changed_at: datetime | None) -> str:
    """Say what was taken back: a change of the next month goes along, so it is named."""
    if changed_at is None:
        return _("Taken back. What next for %(name)s?") % {"name": name}
    said = {"name": name, "moment": f"{timezone.localtime(changed_at):%H:%M}"}
    return (
        _(
            "Taken back, with the change of the next month that was made at %(moment)s. "
            "What next for %(name)s?"
        )
        % said
    )


def _said(decision: Decision) -> str:
    words = CHOICE_WORDS[Choice(decision.choice)]
    name = decision.student.name
    if decision.next_block is None:
        return _("%(name)s: %(choice)s. It stays on the list.") % {
            "name": name,
            "choice": words,
        }
    begins = decision.next_block.first_day
    said = {"name": name, "choice": words, "day": day_in_words(begins)}
    return _("%(name)s: %(choice)s. The next month begins %(day)s.") % said
