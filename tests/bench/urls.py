"""The addresses of Filar, and those that only `make bench` asks."""

from dataclasses import replace

from django.urls import URLPattern, URLResolver, path

from config.urls import handler400, handler403, handler404, handler500
from config.urls import urlpatterns as addresses
from studio import limits
from tests.bench import views

__all__ = ["handler400", "handler403", "handler404", "handler500", "urlpatterns"]

# A phone of the bench files more in a minute than one of a student's in an hour. The tries are
# counted and written as ever, only the number that is too many lies higher.
limits.CHECK_IN_BY_PHONE = replace(limits.CHECK_IN_BY_PHONE, tries=1_000_000)
# "All changed" is measured beside other requests, of which none may spare it the work.
views.hide_when_asked()

urlpatterns: list[URLPattern | URLResolver] = [
    *addresses,
    path("bench/bare", views.bare),
    path("bench/floor", views.floor),
    path("bench/cold", views.cold),
    path("bench/assessed", views.assessed),
    path("bench/insert", views.insert),
]
