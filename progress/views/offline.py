"""What a phone needs to go on without signal: its worker, its manifest, a page that says so."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from studio import access

PAPER = "#FBF8F1"


@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Write the phone's service worker, with the names that the static files have today."""
    response = render(request, "progress/sw.js", content_type="text/javascript; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_GET
def manifest(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view takes a request
    """Describe the site as an app that a phone can put on its home screen."""
    described = {
        "id": "/practice",
        "name": "Filar",
        "short_name": "Filar",
        "description": _("Long tones: play, check in, see your month."),
        "start_url": reverse("progress:who"),
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": [
            {"src": static(f"icons/filar-{name}.png"), "sizes": sizes, "type": "image/png"} | how
            for name, sizes, how in (
                ("192", "192x192", {}),
                ("512", "512x512", {}),
                ("maskable-512", "512x512", {"purpose": "maskable"}),
            )
        ],
    }
    response = JsonResponse(described, content_type="application/manifest+json")
    response.headers["Cache-Control"] = "no-cache"
    return response


@require_GET
def phone_state(request: HttpRequest) -> HttpResponse:
    """Tell a phone whom it is set up for, and give it a fresh token for what waits on it."""
    students = [grant.student.public_id for grant in access.grants_of(request)]
    return JsonResponse({"token": get_token(request), "students": students})


@require_GET
def no_signal(request: HttpRequest) -> HttpResponse:
    """Show what the phone shows in place of a page that it does not have."""
    return render(request, "progress/no_signal.html")
