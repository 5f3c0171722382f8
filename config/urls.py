"""The addresses of Filar: each app brings its own."""

from django.urls import include, path

from studio.urls import account_urlpatterns

urlpatterns = [
    path("", include("studio.urls")),
    path("", include(account_urlpatterns)),
    path("", include("routines.urls")),
    path("", include("progress.urls")),
]

handler400 = "studio.views.front.bad_request"
handler403 = "studio.views.front.forbidden"
handler404 = "studio.views.front.not_found"
handler429 = "studio.views.front.too_many"
handler500 = "studio.views.front.server_error"
