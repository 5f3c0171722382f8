"""Adding many students at once: choose or paste a list, look at it, add it, take it back."""

from datetime import datetime

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from routines.engine.roster import DIVIDERS
from routines.forms.roster import RosterForm
from routines.services.roster import UNDO_TIME, add_students, take_back_students
from studio import access, limits
from studio.access import practice_day
from studio.http import TeacherRequest, as_download
from studio.middleware import wait_in_words
from studio.services.people import StudioIsFullError

SAMPLE = (
    "name,instrument,lesson day,group,parent’s OK,parent e-mail\r\nAnouk,horn,Tuesday,,yes,\r\n"
)
KEPT = "roster"


@access.for_teacher
@require_http_methods(["GET", "POST"])
def add_list(request: TeacherRequest) -> HttpResponse:
    """Read a list, show what was read, and add it once the teacher says so."""
    form = _form(request)
    if not form.is_bound:
        return render(request, "routines/roster.html", {"form": form})
    if "add" not in request.POST:
        return _shown(request, form, status=200 if form.is_valid() else 422)
    if not form.check_for_adding():
        return _shown(request, form, status=422)
    place = request.membership.public_id
    if seconds := limits.take(limits.HEAVY_BY_TEACHER, place, moment=timezone.now()):
        # The list stays in its box, to be added later.
        form.add_error(None, wait_in_words(seconds))
        held_up = _shown(request, form, status=429)
        held_up["Retry-After"] = str(seconds)
        return held_up
    try:
        added = add_students(request.membership.studio, form.to_add, by=request.user)
    except StudioIsFullError as error:
        form.add_error(None, str(error))
        return _shown(request, form, status=422)
    request.session[KEPT] = {
        "at": timezone.now().isoformat(),
        "students": [student.public_id for student in added],
    }
    messages.success(request, _("%(number)d added.") % {"number": len(added)})
    return redirect("routines:list_added")


@access.for_teacher
@require_GET
def list_added(request: TeacherRequest) -> HttpResponse:
    """Name the students that were just added, with the way to take them back."""
    kept = request.session.get(KEPT)
    if kept is None:
        return redirect("routines:students")
    listed = access.students_of(request.membership).filter(public_id__in=kept["students"])
    undo_ends = datetime.fromisoformat(kept["at"]) + UNDO_TIME
    context = {"added": listed, "undo": timezone.now() < undo_ends}
    return render(request, "routines/roster_added.html", context)


@access.for_teacher
@require_POST
def take_list_back(request: TeacherRequest) -> HttpResponse:
    """Take the list back that was added last, within ten minutes."""
    kept = request.session.pop(KEPT, None)
    if kept is None:
        messages.info(request, _("There is no list to take back."))
        return redirect("routines:students")
    stay = take_back_students(
        request.membership.studio,
        kept["students"],
        added=datetime.fromisoformat(kept["at"]),
        moment=timezone.now(),
    )
    if stay:
        names = ", ".join(student.name for student in stay)
        messages.warning(
            request,
            _("Not taken back: %(names)s. It is over ten minutes ago, or in use already.")
            % {"names": names},
        )
    else:
        messages.success(request, _("The list is taken back."))
    return redirect("routines:students")


@access.for_teacher
@require_GET
def sample(_request: TeacherRequest) -> HttpResponse:
    """Give a list to start from."""
    content = ("\ufeff" + SAMPLE).encode()
    return as_download(content, "students.csv", "text/csv; charset=utf-8")


def _form(request: TeacherRequest) -> RosterForm:
    sent = request.method == "POST"
    return RosterForm(
        request.POST if sent else None,
        request.FILES if sent else None,
        known=access.students_of(request.membership),
        today=practice_day(request.membership.studio, timezone.now()),
    )


def _shown(request: TeacherRequest, form: RosterForm, *, status: int) -> HttpResponse:
    """Show what was read; the list itself goes along in the box, to be put right there."""
    context = {
        "form": form,
        "sheet": form.sheet,
        "divider": DIVIDERS[form.sheet.divider] if form.sheet else "",
        "here": {row.number for row in form.here},
        "text": form.as_text or form["text"].value() or "",
        "guessed": bool(form.sheet and form.sheet.is_guessed) or "guessed" in request.POST,
    }
    return render(request, "routines/roster.html", context, status=status)
