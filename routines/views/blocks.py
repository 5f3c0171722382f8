"""Building a block, seeing what it comes to, and handing it out."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from routines.engine import instruments, variants
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.pauses import extra_days
from routines.engine.plan import baseline
from routines.engine.variants import Variant
from routines.forms.blocks import (
    KEPT_FIELDS,
    NOTE_FIELDS,
    AssignForm,
    as_typed,
    begin_with,
    by_variant,
)
from routines.queries import (
    assigned_together,
    blocks_of,
    last_over,
    pauses_of,
    running,
    setup_of,
    version_on,
)
from routines.services import assign as orders
from routines.sheet import PlanSheet, sheet
from routines.views.signed_out import keep_what_was_typed, typed_before
from studio import access, queries
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student


@keep_what_was_typed
@access.for_teacher
@require_http_methods(["GET", "POST"])
def assign(request: TeacherRequest) -> HttpResponse:
    """Build a block and give it to one or several students."""
    if request.method == "GET" or "apply" in request.POST:
        begun = _begun(request, request.POST if request.method == "POST" else request.GET)
        form = _form(request, None, initial=begun)
        figures = _form(request, as_typed(begun))
        figures.is_valid()
        return render(request, "routines/assign.html", _around(request, form, figures))
    form = _form(request, request.POST)
    if not form.check_for_assigning():
        return render(request, "routines/assign.html", _around(request, form), status=422)
    assigned = orders.assign(_order(request, form))
    _say(request, assigned)
    if not assigned.blocks:
        return redirect("routines:assign")
    return redirect("routines:assigned", assigned.batch)


@keep_what_was_typed
@access.for_teacher
@require_POST
def preview(request: TeacherRequest) -> HttpResponse:
    """Show what the form as it stands comes to, for every instrument it goes to."""
    form = _form(request, request.POST)
    form.is_valid()
    return render(request, "routines/_preview.html", _around(request, form))


@access.for_teacher
@require_GET
def assigned(request: TeacherRequest, batch: str) -> HttpResponse:
    """Show the blocks that were assigned together, with the way to take them back."""
    blocks = assigned_together(batch)
    if not blocks:
        messages.info(request, "These blocks were taken back.")
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
        messages.success(request, f"Taken back: {_named(undone.taken_back)}.")
    if undone.kept:
        messages.warning(
            request,
            f"Not taken back: {_named(undone.kept)}. It is played already, or a newer block has "
            "those days: take that one back first.",
        )
    if not undone.taken_back and not undone.kept:
        messages.warning(request, "Nothing was taken back: it is over ten minutes ago.")
    return redirect("routines:assign")


def _order(request: TeacherRequest, form: AssignForm) -> orders.Order:
    data = form.cleaned_data
    assert form.month is not None  # noqa: S101 - checked by check_for_assigning
    return orders.Order(
        plans=[(student, form.plan_for(student)) for student in form.chosen],
        month=form.month,
        by=request.user,
        moment=timezone.now(),
        batch=data["batch"],
        aim=data["aim"],
        message=data["message"],
        if_running=data["if_running"] or orders.IfRunning.SKIP,
    )


def _say(request: TeacherRequest, assigned: orders.Assigned) -> None:
    if assigned.blocks:
        messages.success(request, f"Assigned to {len(assigned.blocks)}.")
    if assigned.skipped:
        messages.info(
            request, f"Left out, because their days are taken: {_named(assigned.skipped)}."
        )


def _named(students: list[Student]) -> str:
    return ", ".join(student.name for student in students)


def _form(
    request: TeacherRequest,
    data: QueryDict | None,
    *,
    initial: Mapping[str, Any] | None = None,
) -> AssignForm:
    """Make the builder's form with the notes of the instrument that it is written for."""
    students = list(access.students_of(request.membership))
    given = str((initial or data or {}).get("instrument", ""))
    instrument = given if given in instruments.ids() else _first_instrument(students)
    if data is not None and given != instrument:
        # A hidden field has no place for an error: what the page did not send is put right.
        data = data.copy()
        data["instrument"] = instrument
    ticked = data.getlist("students") if data is not None else (initial or {}).get("students", [])
    readers = [row for row in students if row.public_id in ticked and row.instrument == instrument]
    return AssignForm(
        data,
        initial=initial,
        choose_from=students,
        instrument=instrument,
        setup=setup_of(readers[0], instrument) if readers else Setup(),
        naming=Naming(request.membership.studio.note_naming),
        today=practice_day(request.membership.studio, timezone.now()),
    )


def _first_instrument(students: list[Student]) -> str:
    return students[0].instrument if students else instruments.ids()[0]


def _begun(request: TeacherRequest, given: QueryDict) -> dict[str, Any]:
    """Begin with what was given, over the variant asked for, over what is played now."""
    students = list(access.students_of(request.membership))
    given = given or typed_before(request, students) or given
    ticked = given.getlist("students")
    chosen = [row for row in students if row.public_id in ticked]
    today = practice_day(request.membership.studio, timezone.now())
    begun = _played_now(chosen, today) or begin_with(
        baseline(instruments.by_id(_first_instrument(chosen or students))), first_day=today
    )
    typed: dict[str, Any] = {name: given[name] for name in KEPT_FIELDS if name in given}
    if typed.get("instrument", begun["instrument"]) != begun["instrument"]:
        typed = {name: typed[name] for name in typed if name not in NOTE_FIELDS}
    begun = begun | typed | {"students": ticked}
    if "hold" in typed:
        begun["weekdays_off"] = given.getlist("weekdays_off")
    asked = given.get("apply", "")
    return begun | by_variant(Variant(asked), begun) if asked in set(Variant) else begun


def _played_now(chosen: list[Student], today: date) -> dict[str, Any] | None:
    """Begin with the block that the one chosen student has, to start when it ends."""
    if len(chosen) != 1:
        return None
    blocks = blocks_of(chosen[0])
    block = running(blocks, today) or last_over(blocks, today)
    if block is None or block.instrument != chosen[0].instrument:
        return None
    first_day = max(today, block.last_day + timedelta(days=1))
    plan = version_on(block, block.last_day).plan
    begun = begin_with(plan, first_day=first_day)
    return begun | {"weekdays_off": [str(day) for day in block.weekdays_off]}


def _around(
    request: TeacherRequest, form: AssignForm, figures: AssignForm | None = None
) -> dict[str, Any]:
    """Gather what stands around the form: the figures, and who should be talked to first.

    A form that nobody has sent yet has no figures of its own; `figures` is its twin, as if sent.
    """
    figures = figures or form
    return {
        "form": form,
        "sheets": _sheets(request, figures),
        "hurting": queries.hurting(form.chosen),
        "variants": list(variants.COUNTS.items()),
        "variant": variants.named(figures.plan) if figures.plan else None,
        "ends": _end(figures),
    }


def _end(form: AssignForm) -> date | None:
    """Say on which day the block would end; for one student with the pauses known already."""
    month = form.month
    if month is not None and len(form.chosen) == 1:
        month = replace(month, extra_days=extra_days(month, pauses_of(form.chosen[0])))
    return month.last_day if month else None


def _sheets(request: TeacherRequest, form: AssignForm) -> list[tuple[PlanSheet, list[Student]]]:
    """Lay the plan out once for every different way that the chosen students read it."""
    if form.plan is None:
        return []
    naming = Naming(request.membership.studio.note_naming)
    readers: dict[Any, list[Student]] = {form.plan: []} if not form.chosen else {}
    for student in form.chosen:
        readers.setdefault(form.plan_for(student), []).append(student)
    return [
        (sheet(plan, naming=naming, month=form.month), students)
        for plan, students in readers.items()
    ]
