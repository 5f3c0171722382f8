"""docs/limits.md says what each field takes and how much there may be of what; the code does it.

The wish for such a document is ASVS 5.0.0, V2.1.1 and V2.1.3, from memory.
"""

import importlib
import pkgutil
import re
from collections.abc import Iterator
from datetime import timedelta
from types import ModuleType
from typing import Any

import pytest
from django import forms as django_forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models

import progress.forms
import routines.forms
import studio.accounts
import studio.forms
import studio.team_forms
from progress.engine.held_notes.limits import UPLOAD
from progress.forms.check_ins import HurtForm
from studio import limits
from studio.forms import PersonForm
from tests import tree

TEXT = (tree.TOP / "docs/limits.md").read_text()
IN_SECONDS = {"an hour": 3600, "10 minutes": 600, "a day": 86400}


def rows(heading: str) -> list[list[str]]:
    """Read the table under a heading, without its head."""
    part = TEXT.split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    lines = [line for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def modules() -> Iterator[ModuleType]:
    yield from (studio.forms, studio.team_forms, studio.accounts)
    for package in (routines.forms, progress.forms):
        for found in pkgutil.iter_modules(package.__path__):
            yield importlib.import_module(f"{package.__name__}.{found.name}")


def forms() -> list[type[django_forms.BaseForm]]:
    """List every form of ours that has fields of its own."""
    return [
        kind
        for module in modules()
        for kind in vars(module).values()
        if isinstance(kind, type)
        and issubclass(kind, django_forms.BaseForm)
        and kind.__module__ == module.__name__
        and kind.base_fields  # type: ignore[attr-defined] # put on by the class's own making
    ]


SAID = (
    (django_forms.BooleanField, "a tick"),
    (django_forms.MultipleChoiceField, "any of what is offered"),
    (django_forms.ChoiceField, "one of what is offered"),
    (django_forms.FloatField, "a number"),
    (django_forms.IntegerField, "a whole number"),
    (django_forms.DateField, "a day"),
    (django_forms.TimeField, "a time of day"),
    (django_forms.UUIDField, "a UUID"),
    (django_forms.FileField, "a file"),
    (django_forms.EmailField, "an e-mail address"),
    (django_forms.Field, "text"),
)


def described(field: django_forms.Field) -> str:
    """Say in words what a field takes, by what the field itself says."""
    words = next(said for kind, said in SAID if isinstance(field, kind))
    if isinstance(field, django_forms.RegexField):
        return f"{words} of the form `{field.regex.pattern}`"
    if getattr(field, "min_value", None) is not None:
        return f"{words} from {field.min_value} to {field.max_value}"  # type: ignore[attr-defined]
    longest = getattr(field, "max_length", None)
    return words if longest is None else f"{words} up to {longest} characters"


def test_every_field_of_every_form_is_described_as_it_is():
    there = [
        [f"`{form.__name__}`", f"`{name}`", described(field), "yes" if field.required else "no"]
        for form in forms()
        for name, field in form.base_fields.items()  # type: ignore[attr-defined]
    ]

    assert rows("What each field takes") == there


@pytest.mark.parametrize("row", rows("How much of what"), ids=lambda row: row[0])
def test_a_count_is_the_constant_it_names(row):
    _, said, home = row
    path, name = home.strip("`").rsplit(".", 1)

    assert said == in_words(getattr(importlib.import_module(path), name))


def in_words(value: Any) -> str:
    if isinstance(value, timedelta):
        return f"{value.days} days" if value.days else f"{value.seconds // 60} minutes"
    if isinstance(value, tuple):
        return f"{value[0]} to {value[1]}"
    return f"{value:,}"


def test_the_limits_of_tries_are_those_that_are_counted():
    said = {name: (int(tries), IN_SECONDS[each]) for name, tries, each in rows("How often")}

    assert said == {one.name: (one.tries, one.seconds) for one in limits.ALL}


def test_one_request_is_as_large_as_the_document_says():
    assert f"{settings.DATA_UPLOAD_MAX_MEMORY_SIZE:,} bytes" in TEXT
    assert f"a recording alone may have {UPLOAD.most_bytes:,}." in TEXT


def columns() -> Iterator[tuple[str, str, int]]:
    """Name the fields of forms that have a column of the same name, with the column's length."""
    for form, model in (("PersonForm", "Student"), ("StudioForm", "Studio")):
        kind = next(one for one in forms() if one.__name__ == form)
        table = next(m for m in django_models() if m.__name__ == model)
        lengths = {f.name: f.max_length for f in table._meta.concrete_fields if f.max_length}
        for name in kind.base_fields:  # type: ignore[attr-defined]
            if name in lengths:
                yield form, name, lengths[name]


def django_models() -> list[type[models.Model]]:
    from django.apps import apps  # noqa: PLC0415 - the registry is ready by then

    return list(apps.get_app_config("studio").get_models())


def test_no_field_takes_more_than_its_column():
    kinds = {form.__name__: form for form in forms()}
    longer = [
        (form, name)
        for form, name, column in columns()
        if (getattr(kinds[form].base_fields[name], "max_length", None) or 0) > column  # type: ignore[attr-defined]
    ]

    assert longer == []
    assert len(list(columns())) > 5


# The edges of the fields with bounds: the last that is taken and the first that is not.
@pytest.mark.parametrize(
    ("form", "field", "taken", "refused"),
    [
        (PersonForm, "name", "n" * 80, "n" * 81),
        (PersonForm, "group", "g" * 80, "g" * 81),
        (PersonForm, "consent_how", "c" * 120, "c" * 121),
        (studio.forms.StudioForm, "back_fill_days", "14", "15"),
        (studio.forms.StudioForm, "back_fill_days", "0", "-1"),
        (studio.forms.StudioForm, "link_hours", "168", "169"),
        (studio.forms.StudioForm, "link_hours", "1", "0"),
        (studio.team_forms.PrivacyForm, "keep_months", "12", "11"),
        (studio.team_forms.PrivacyForm, "keep_months", "60", "61"),
        (HurtForm, "step", "1000", "1001"),
    ],
)
def test_the_edge_of_a_field_is_where_the_document_says(form, field, taken, refused):
    asked = form.base_fields[field]
    edge = taken if taken.isdecimal() else str(len(taken))

    asked.clean(taken)
    with pytest.raises(ValidationError):
        asked.clean(refused)
    assert edge in re.findall(r"\d+", described(asked))
