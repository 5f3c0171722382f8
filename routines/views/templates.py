"""A studio's templates: the list, and giving another name, deleting, putting back."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from routines import queries
from routines.forms.templates import TemplateForm
from routines.models import Template
from routines.services.templates import (
    PUT_BACK_TIME,
    TemplateError,
    put_back_template,
    remove_template,
)
from routines.services.templates import rename_template as give_name
from studio import access
from studio.http import TeacherRequest


@access.for_teacher
@require_GET
def templates(request: TeacherRequest) -> HttpResponse:
    """List the studio's templates."""
    context: dict[str, Any] = {
        "naming": request.membership.studio.note_naming,
        "templates": list(queries.templates()),
        "removed": list(queries.templates_removed_since(timezone.now() - PUT_BACK_TIME)),
    }
    return render(request, "routines/templates.html", context)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def rename_template(request: TeacherRequest, template_id: str) -> HttpResponse:
    """Give a template another name; the blocks made from it stay as they are."""
    template = get_object_or_404(queries.templates(), public_id=template_id)
    called = template.name
    form = TemplateForm(
        request.POST if request.method == "POST" else None,
        initial={"called": called},
    )
    if form.is_valid():
        try:
            give_name(template, name=form.cleaned_data["called"])
        except TemplateError as error:
            form.add_error("called", str(error))
        else:
            messages.success(request, _("Saved."))
            return redirect("routines:templates")
    status = 422 if form.is_bound else 200
    context = {"form": form, "renaming": template, "called": called}
    return render(request, "routines/rename_template.html", context, status=status)


@access.for_teacher
@require_POST
def remove(request: TeacherRequest, template_id: str) -> HttpResponse:
    """Take a template off the list; for ten minutes it can be put back."""
    template = get_object_or_404(queries.templates(), public_id=template_id)
    remove_template(template, moment=timezone.now())
    messages.success(
        request, _("“%(name)s” is deleted. Blocks made from it stay.") % {"name": template.name}
    )
    return redirect("routines:templates")


@access.for_teacher
@require_POST
def put_back(request: TeacherRequest, template_id: str) -> HttpResponse:
    """Put a template back that was deleted a moment ago."""
    template = get_object_or_404(Template.objects, public_id=template_id)
    try:
        put_back_template(template, moment=timezone.now())
    except TemplateError as error:
        messages.warning(request, str(error))
    else:
        messages.success(request, _("“%(name)s” is back.") % {"name": template.name})
    return redirect("routines:templates")
