"""Building a block, seeing what it comes to, and handing it out."""

from dataclasses import replace
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from routines.engine import instruments, variants
from routines.engine.grades import Tier, first_block
from routines.engine.pauses import extra_days
from routines.engine.section import Short
from routines.forms.again import AgainForm
from routines.forms.begin import as_typed
from routines.forms.blocks import AssignForm
from routines.forms.templates import TemplateForm
from routines.forms.who import who
from routines.queries import assigned_together, pauses_of, templates
from routines.services import assign as orders
from routines.services.templates import TemplateError, save_template
from routines.sheet import PlanSheet, sheet
from routines.signals import recording_wanted
from routines.views.desk import Desk
from routines.views.signed_out import keep_what_was_typed
from studio import access, queries
from studio.http import TeacherRequest
from studio.models import Student


@keep_what_was_typed
@access.for_teacher
@require_http_methods(["GET", "POST"])
def assign(request: TeacherRequest) -> HttpResponse:
    """Build a block and give it to one or several students."""
    desk = Desk.of(request)
    if request.method == "GET" or {"apply", "tick"} & set(request.POST):
        begun = desk.begin(request, request.POST if request.method == "POST" else request.GET)
        figures = desk.form(as_typed(begun))
        figures.is_valid()
        form = desk.form(None, initial=begun)
        return render(request, "routines/assign.html", _around(desk, form, figures))
    form = desk.form(request.POST)
    if "save" in request.POST and isinstance(form, AssignForm):
        return _save(request, desk, form)
    if not form.check_for_assigning():
        return render(request, "routines/assign.html", _around(desk, form), status=422)
    assigned = orders.assign(form.order(by=request.user, moment=timezone.now()))
    _say(request, assigned)
    if assigned.blocks and form.cleaned_data["recording"]:
        _ask_for_a_recording(request, assigned.batch)
    if not assigned.blocks:
        return redirect("routines:assign")
    return redirect("routines:assigned", assigned.batch)


@keep_what_was_typed
@access.for_teacher
@require_POST
def preview(request: TeacherRequest) -> HttpResponse:
    """Show what the form as it stands comes to, for every instrument it goes to."""
    desk = Desk.of(request)
    form = desk.form(request.POST)
    form.is_valid()
    # An answer that is being given must not be taken away: the question comes anew with new people.
    taken = form.clash_mark if isinstance(form, AssignForm) else ""
    anew = bool(request.htmx) and taken != request.POST.get("taken", "")
    context = {**_what_it_comes_to(desk, form), "taken_anew": anew}
    return render(request, "routines/_preview.html", context)


@access.for_teacher
@require_GET
def assigned(request: TeacherRequest, batch: str) -> HttpResponse:
    """Show the blocks that were assigned together, with the way to take them back."""
    blocks = assigned_together(batch)
    if not blocks:
        messages.info(request, _("These blocks were taken back."))
        return redirect("routines:assign")
    undo_ends = blocks[0].made_at + orders.UNDO_TIME
    context = {"blocks": blocks, "batch": batch, "undo": timezone.now() < undo_ends}
    return render(request, "routines/assigned.html", context)


@access.for_teacher
@require_POST
def undo_assign(request: TeacherRequest, batch: str) -> HttpResponse:
    """Take blocks back that were assigned by mistake, within ten minutes."""
    undone = orders.undo_assign(batch, moment=timezone.now())
    if undone.taken_back:
        messages.success(
            request, _("Taken back: %(taken_back)s.") % {"taken_back": _named(undone.taken_back)}
        )
    if undone.kept:
        messages.warning(
            request,
            _(
                "Not taken back: %(kept)s. It is played already, or a newer block has those "
                "days: take that one back first."
            )
            % {"kept": _named(undone.kept)},
        )
    if not undone.taken_back and not undone.kept:
        messages.warning(request, _("Nothing was taken back: it is over ten minutes ago."))
    return redirect("routines:assign")


def _save(request: TeacherRequest, desk: Desk, form: AssignForm) -> HttpResponse:
    """Keep the block as a template, and go on with all that was typed."""
    naming = TemplateForm(request.POST)
    kept = form.kept() if form.is_valid() else None
    saved = None
    if naming.is_valid() and kept is not None:
        name = naming.cleaned_data["called"]
        try:
            saved = save_template(
                request.membership.studio, kept, name=name, by=request.user, moment=timezone.now()
            )
            naming = TemplateForm()
        except TemplateError as error:
            naming.add_error("called", str(error))
    context = {**_around(desk, form), "keep": naming, "saved": saved}
    status = 200 if saved or request.htmx else 422
    return render(request, "routines/assign.html", context, status=status)


def _say(request: TeacherRequest, assigned: orders.Assigned) -> None:
    if assigned.blocks:
        messages.success(request, _("Assigned to %(number)s.") % {"number": len(assigned.blocks)})
    if assigned.skipped:
        messages.info(
            request,
            _("Left out, because their days are taken: %(skipped)s.")
            % {"skipped": _named(assigned.skipped)},
        )


def _ask_for_a_recording(request: TeacherRequest, batch: str) -> None:
    answers = recording_wanted.send(sender=None, batch=batch)
    asked = sum(int(number or 0) for _receiver, number in answers)
    if not asked:
        words = _("Nobody of them may record: switch it on under Recordings on a student’s page.")
        messages.warning(request, words)
        return
    words = ngettext(
        "Asked %(number)s student for a recording.",
        "Asked %(number)s students for a recording.",
        asked,
    )
    messages.success(request, words % {"number": asked})


def _named(students: list[Student]) -> str:
    return ", ".join(student.name for student in students)


def _around(
    desk: Desk, form: AssignForm | AgainForm, figures: AssignForm | AgainForm | None = None
) -> dict[str, Any]:
    """Gather what stands around the form: whom to tick, what to begin with, the figures.

    A form that nobody has sent yet has no figures of its own; `figures` is its twin, as if sent.
    """
    chosen = form.chosen
    player = instruments.by_id(chosen[0].instrument if chosen else _instrument(form))
    return {
        **_what_it_comes_to(desk, figures or form),
        "form": form,
        "who": who(form, desk.running),
        "variants": list(variants.COUNTS.items()),
        "player": player,
        "tiers": [(tier, first_block(tier, player)) for tier in Tier],
        "templates": list(templates()),
        "again_for": [row for row in chosen if row.pk in desk.latest],
        "keep": TemplateForm(),
        "saved": None,
    }


def _instrument(form: AssignForm | AgainForm) -> str:
    given = str(form["instrument"].value()) if "instrument" in form.fields else ""
    return given if given in instruments.ids() else instruments.ids()[0]


def _what_it_comes_to(desk: Desk, form: AssignForm | AgainForm) -> dict[str, Any]:
    """Gather the figures of a form that was sent, and who should be talked to first."""
    written = form if isinstance(form, AssignForm) else None
    return {
        "form": form,
        "naming": desk.naming,
        "again": form.rows if isinstance(form, AgainForm) else [],
        "again_is_on": isinstance(form, AgainForm),
        "sheets": _sheets(desk, written) if written else [],
        "short": _short(written) if written else [],
        "taken": written,
        "clashes": written.clashes if written else [],
        "hurting": queries.hurting(form.chosen),
        "variant": variants.named(written.plan) if written and written.plan else None,
        "ends": _end(written) if written else None,
    }


def _end(form: AssignForm) -> date | None:
    """Say on which day the block would end; for one student with the pauses known already."""
    month = form.month
    if month is not None and len(form.chosen) == 1:
        month = replace(month, extra_days=extra_days(month, pauses_of(form.chosen[0])))
    return month.last_day if month else None


def _short(form: AssignForm) -> list[tuple[Student, Short]]:
    """Say for whom the plan does not fit on the instrument, and by how much."""
    if form.plan is None:
        return []
    found = ((student, form.short_for(student)) for student in form.chosen)
    return [(student, short) for student, short in found if short]


def _sheets(desk: Desk, form: AssignForm) -> list[tuple[PlanSheet, list[Student]]]:
    """Lay the plan out once for every different way that the chosen students read it."""
    if form.plan is None:
        return []
    readers: dict[Any, list[Student]] = {form.plan: []} if not form.chosen else {}
    for student in form.chosen:
        readers.setdefault(form.plan_for(student), []).append(student)
    return [
        (sheet(plan, naming=desk.naming, month=form.month), students)
        for plan, students in readers.items()
    ]
