"""Changing what a running block asks, from a day on."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.forms.change import ChangeForm
from routines.forms.plan import as_fields
from routines.models import Block, BlockVersion
from routines.queries import Edit, days_to_change, edits, setup_of, version_on
from routines.services.change import ChangeError, over
from routines.services.change import change_block as write_change
from routines.sheet import sheet
from routines.templatetags.music import edit_words
from routines.views.signed_out import say_signed_out
from studio import access, queries
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.words import day_in_words


@say_signed_out
@access.for_teacher
@require_http_methods(["GET", "POST"])
def change_block(request: TeacherRequest, block_id: str) -> HttpResponse:
    """Show what is asked, what it would come to, and change it from a day on."""
    block = get_object_or_404(Block.objects.select_related("student__studio"), public_id=block_id)
    today = practice_day(block.student.studio, timezone.now())
    days = days_to_change(block, today)
    if days is None:
        messages.warning(request, over(block))
        return redirect("progress:student", block.student.public_id)
    form = _form(request, block, days)
    saves = form.is_bound and "preview" not in request.POST
    if form.is_valid() and saves and (version := _changed(request, block, form)):
        messages.success(request, _said(block, version, today))
        return redirect("progress:student", block.student.public_id)
    page = "routines/_change_preview.html" if request.htmx else "routines/change.html"
    status = 422 if saves else 200
    return render(request, page, _around(request, block, form, days), status=status)


def _form(request: TeacherRequest, block: Block, days: tuple[date, date]) -> ChangeForm:
    """Make the form, filled with what is asked on the day it would begin."""
    begins = _begins(request.GET.get("from", ""), days)
    asked = version_on(block, begins).plan
    sent = None
    if request.method == "POST":
        # A hidden field has no place for an error; a block keeps its instrument anyway.
        sent = request.POST.copy()
        sent["instrument"] = block.instrument
    initial: Mapping[str, Any] = {**as_fields(asked), "from_day": begins}
    return ChangeForm(
        sent,
        initial=initial,
        days=days,
        instrument=block.instrument,
        setup=_setup(block, asked.setup),
        naming=Naming(request.membership.studio.note_naming),
    )


def _begins(asked: str, days: tuple[date, date]) -> date:
    """Read from which day on, where the way here says one that can be; else the first."""
    first, last = days
    try:
        day = date.fromisoformat(asked)
    except ValueError:
        return first
    return day if first <= day <= last else first


def _setup(block: Block, asked: Setup) -> Setup:
    """Say how the instrument is built now; a student who changed it keeps the block's."""
    same = block.student.instrument == block.instrument
    return setup_of(block.student, block.instrument) if same else asked


def _changed(request: TeacherRequest, block: Block, form: ChangeForm) -> BlockVersion | None:
    """Write the change, or put into the form why it cannot be."""
    assert form.plan is not None  # noqa: S101 - only asked for once the form is valid
    try:
        return write_change(
            block,
            form.plan,
            from_day=form.cleaned_data["from_day"],
            by=request.user,
            moment=timezone.now(),
        )
    except ChangeError as error:
        form.add_error(error.field or None, str(error))
        return None


def _said(block: Block, version: BlockVersion, today: date) -> str:
    # The first version of all is no edit.
    only = Edit(version=version, changed=())
    edit = next((each for each in edits(block) if each.version.pk == version.pk), only)
    if version.from_day == today:
        return _("Saved. From today: %(change)s.") % {"change": edit_words(edit)}
    said = {"day": day_in_words(version.from_day), "change": edit_words(edit)}
    return _("Saved. From %(day)s: %(change)s.") % said


def _around(
    request: TeacherRequest, block: Block, form: ChangeForm, days: tuple[date, date]
) -> dict[str, Any]:
    """Gather what stands around the form: what is asked now beside what it would come to."""
    naming = Naming(request.membership.studio.note_naming)
    now = sheet(version_on(block, days[0]).plan, naming=naming, month=block.month)
    then = now if not form.is_bound else None
    if form.is_bound and form.plan is not None:
        then = sheet(form.plan, naming=naming, month=block.month)
    return {
        "changing": block,
        "student": block.student,
        "form": form,
        "now": now,
        "then": then,
        "planned": [edit for edit in edits(block) if edit.version.from_day > days[0]],
        "hurting": queries.hurting([block.student]),
    }
