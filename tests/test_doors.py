"""Nobody sees another studio: every model is scoped, every view is behind the door."""

from collections.abc import Iterator

import pytest
from django.apps import apps
from django.db import models
from django.db.models import Model
from django.http import HttpResponse
from django.test.utils import isolate_apps
from django.urls import URLPattern, URLResolver, get_resolver, path
from django.urls.converters import IntConverter
from django_scopes import ScopedManager, scope
from django_scopes.exceptions import ScopeError

from studio.models import Studio

# Who may open what without the door, and why.
PUBLIC = {
    "studio:home": "sends everybody on to where they belong",
    "studio:healthz": "a monitor asks whether the site answers",
    "studio:help": "general information, the same for all",
    "studio:help_numbers": "the same",
    "studio:help_hearing": "the same",
    "studio:join": "a new teacher has nothing yet but the secret in their link",
    "studio:join_studio": "for the invitation that this session found before",
    "studio:open_a_studio": "404 unless a setting opens it; makes a studio of one's own",
    "studio:first_run": "makes the first studio; needs the token of the console, 404 ever after",
    "studio:pair": "a new phone has nothing yet but the token in its link",
    "studio:stop_letters": "a parent has nothing but the signed link in the letter",
    "studio:parent": "a parent's phone neither; it lists what this phone may read, by its cookie",
    "progress:worker": "the phone's service worker, the same for all",
    "progress:manifest": "what the app is called and looks like, the same for all",
    "progress:no_signal": "what a phone shows without signal, the same for all",
    "progress:phone_state": "names the students of this very phone, read from its cookie",
    "progress:who": "lists the students of this very phone, read from its cookie",
    "account_login": "the sign-in itself",
    "account_logout": "the way out; asks by POST",
    "account_change_password": "asks for a sign-in itself",
    "account_reauthenticate": "the same",
    "mfa_authenticate": "the second half of the sign-in itself",
    "mfa_reauthenticate": "asks for a sign-in itself",
    "mfa_activate_totp": "the same, and must open before the door does",
    "mfa_deactivate_totp": "the same",
    "mfa_view_recovery_codes": "the same",
    "mfa_generate_recovery_codes": "the same",
}
DOORS = {"teacher", "phone", "parent"}


def addresses(resolver: URLResolver, space: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Walk every address of the site as (its full name, its pattern)."""
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from addresses(entry, f"{entry.namespace}:" if entry.namespace else space)
        else:
            yield f"{space}{entry.name or entry.pattern}", entry


def without_door(resolver: URLResolver) -> set[str]:
    """Name the addresses whose view is behind neither door."""
    return {
        name
        for name, pattern in addresses(resolver)
        if getattr(pattern.callback, "door", None) not in DOORS
    }


def counting(resolver: URLResolver) -> list[str]:
    """Name the addresses that carry a number, which others could count through."""
    return [
        name
        for name, pattern in addresses(resolver)
        if any(isinstance(kind, IntConverter) for kind in pattern.pattern.converters.values())
    ]


def leads_to_a_studio(model: type[Model], seen: frozenset[type[Model]] = frozenset()) -> bool:
    """Tell whether foreign keys lead from a model to a studio."""
    targets = {
        field.related_model
        for field in model._meta.get_fields()
        if field.many_to_one or (field.one_to_one and field.concrete)
    }
    classes = {target for target in targets if isinstance(target, type)} - seen
    return Studio in classes or any(leads_to_a_studio(c, seen | {model}) for c in classes)


def opens_outside_a_scope(model: type[Model]) -> bool:
    """Tell whether one of a model's managers reads rows although no studio's scope is open."""
    for manager in model._meta.managers:
        try:
            manager.all()
        except ScopeError:
            continue
        return True
    return False


OWNED = [model for model in apps.get_models() if leads_to_a_studio(model)]


@pytest.mark.parametrize("model", OWNED, ids=lambda model: model._meta.label)
def test_a_model_of_a_studio_raises_outside_a_scope(model):
    assert not opens_outside_a_scope(model)


@pytest.mark.parametrize("model", OWNED, ids=lambda model: model._meta.label)
def test_a_model_of_a_studio_shows_that_studio_alone_inside_a_scope(model):
    with scope(studio=Studio(pk=7)):
        query = str(model.objects.all().query)

    assert query.endswith(" = 7") or '_id" = 7' in query


def test_the_models_of_a_studio_are_found():
    found = {model._meta.label for model in OWNED}

    assert {"studio.Student", "studio.Grant", "studio.Membership"} <= found
    assert "studio.User" not in found


@isolate_apps("studio")
def test_an_unscoped_model_of_a_studio_would_be_found():
    class Mouthpiece(models.Model):  # noqa: DJ008 - it is never shown
        studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="+")

        class Meta:
            app_label = "studio"

    assert leads_to_a_studio(Mouthpiece)
    assert opens_outside_a_scope(Mouthpiece)


@isolate_apps("studio")
def test_a_second_unscoped_manager_would_be_found():
    class Mute(models.Model):  # noqa: DJ008 - it is never shown
        studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="+")
        everything = models.Manager()
        objects = ScopedManager(studio="studio")

        class Meta:
            app_label = "studio"

    assert opens_outside_a_scope(Mute)


def test_every_view_is_behind_a_door_or_public_for_a_reason():
    assert without_door(get_resolver()) == set(PUBLIC)


def test_every_address_has_a_name():
    assert [name for name, pattern in addresses(get_resolver()) if not pattern.name] == []


def test_no_address_carries_a_number_to_count_through():
    assert counting(get_resolver()) == []


def test_a_view_without_a_door_or_with_a_number_would_be_found():
    def everybody(request, pk):
        return HttpResponse(f"student {pk}")

    addressed = [path("students/<int:pk>", everybody, name="everybody")]
    planted = URLResolver(get_resolver().pattern, addressed)

    assert without_door(planted) == {"everybody"}
    assert counting(planted) == ["everybody"]
