"""No row leads from one studio into another: refused when it is written, looked for at night.

A row's studio is found by its shortest way of foreign keys that are always there, such as
`student__studio`. Every other key of the row must lead to the same studio; a key that leads to a
teacher must lead to somebody who teaches, or taught, in that studio.

Writes of many rows at once and updates by query send no signal. A test lists who makes them.
"""

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from django.apps import apps
from django.db.models import Exists, F, ForeignKey, Model, OuterRef, QuerySet

from studio.models import Membership, Studio, User


class CrossingError(ValueError):
    """Something was to be written that leads from one studio into another."""


def owned_models() -> list[type[Model]]:
    """List the models whose rows belong to a studio."""
    return [model for model in apps.get_models() if way_home(model)]


@cache
def way_home(model: type[Model]) -> str:
    """Say how a model's rows lead to their studio, such as "student__studio"; "" where not."""
    waiting: list[tuple[str, type[Model]]] = [("", model)]
    seen = {model}
    while waiting:
        way, at = waiting.pop(0)
        for field in _keys(at):
            target = _target(field)
            if field.null or target in seen:
                continue
            if target is Studio:
                return way + field.name
            seen.add(target)
            waiting.append((f"{way}{field.name}__", target))
    return ""


@cache
def side_ways(model: type[Model]) -> tuple[tuple[str, str], ...]:
    """List a model's other keys into a studio as (key, way from there to the studio)."""
    first = way_home(model).partition("__")[0]
    return tuple(
        (field.name, way_home(_target(field)))
        for field in _keys(model)
        if field.name != first and way_home(_target(field))
    )


def refuse(
    sender: type[Model],
    instance: Model,
    *,
    raw: bool = False,
    update_fields: Iterable[str] | None = None,
    **_others: Any,
) -> None:
    """Before a row is saved: raise CrossingError where it would lead into another studio."""
    ways = () if raw else side_ways(sender)
    if update_fields is not None:
        # Other columns may be written without asking where the keys lead.
        written = set(update_fields)
        first = way_home(sender).partition("__")[0]
        ways = ways if first in written else tuple(way for way in ways if way[0] in written)
    for key, onward in ways:
        if getattr(instance, f"{key}_id") is None:
            continue
        home, there = _studio(instance, way_home(sender)), _studio(instance, f"{key}__{onward}")
        if home != there:
            message = f"{sender.__name__}.{key} leads from studio {home} into studio {there}."
            raise CrossingError(message)


def found() -> Iterator[tuple[str, int]]:
    """Go through every key of every row and name those that cross, as ("Model.key", rows)."""
    for model in owned_models():
        home, rows = way_home(model), _all(model)
        for key, onward in side_ways(model):
            crossing = rows.filter(**{f"{key}__isnull": False})
            if count := crossing.exclude(**{f"{key}__{onward}": F(home)}).count():
                yield f"{model.__name__}.{key}", count
        for field in _keys(model):
            if _target(field) is User and model is not Membership:
                places = _all(Membership).filter(user=OuterRef(field.name), studio=OuterRef(home))
                strangers = rows.filter(~Exists(places), **{f"{field.name}__isnull": False})
                if count := strangers.count():
                    yield f"{model.__name__}.{field.name}", count


def _all(model: type[Model]) -> QuerySet[Any]:
    # Of every studio: a scope would hide what crosses.
    return model._base_manager.all()  # noqa: SLF001


def _keys(model: type[Model]) -> list[ForeignKey[Any, Any]]:
    fields = model._meta.concrete_fields  # noqa: SLF001 - Django's public name for it
    return [field for field in fields if isinstance(field, ForeignKey)]


def _target(field: ForeignKey[Any, Any]) -> type[Model]:
    target: type[Model] = field.remote_field.model
    return target


def _studio(row: Model, way: str) -> int | None:
    """Follow a way to the number of a studio, by the rows that are there already if they are."""
    step, _, rest = way.partition("__")
    number: int | None = getattr(row, f"{step}_id")
    if not rest or number is None:
        return number
    field = next(key for key in _keys(type(row)) if key.name == step)
    if (known := field.get_cached_value(row, default=None)) is not None:
        return _studio(known, rest)
    asked = _all(_target(field)).filter(pk=number).values_list(rest, flat=True)
    there: int | None = asked.first()
    return there
