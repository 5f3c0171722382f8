"""The studio's settings, and closing what hurt."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from studio import access
from studio.forms import CloseDiscomfortForm, StudioForm
from studio.http import TeacherRequest
from studio.models import Discomfort
from studio.services import people, wellbeing

STUDIO_FIELDS = (
    "name", "time_zone", "day_ends_at", "back_fill_days", "link_hours", "note_naming",
)  # fmt: skip


@access.for_teacher
@require_http_methods(["GET", "POST"])
def settings(request: TeacherRequest) -> HttpResponse:
    """Show and change how the studio works."""
    studio = request.membership.studio
    form = StudioForm(
        request.POST if request.method == "POST" else None,
        initial={name: getattr(studio, name) for name in STUDIO_FIELDS},
    )
    if form.is_valid():
        people.change_studio(studio, by=request.user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("studio:settings")
    return render(request, "studio/settings.html", {"form": form, "studio": studio})


@access.for_teacher
@require_POST
def close_discomfort(request: TeacherRequest, discomfort_id: str) -> HttpResponse:
    """Close a discomfort after the talk; for a child the talk is with the family too."""
    discomfort = get_object_or_404(
        Discomfort.objects.select_related("student"), public_id=discomfort_id
    )
    form = CloseDiscomfortForm(request.POST)
    form.full_clean()
    spoken = form.cleaned_data["spoken_with_family"]
    if discomfort.student.child and not spoken:
        messages.error(
            request,
            _(
                "Still open. %(name)s is a child: have you spoken with the family? Tick the "
                "box, then close it."
            )
            % {"name": discomfort.student.name},
        )
    else:
        wellbeing.close_discomfort(
            discomfort, by=request.user, moment=timezone.now(), spoken_with_family=spoken
        )
        messages.success(request, _("Closed. It stays in the history."))
    return redirect("progress:student", discomfort.student.public_id)
