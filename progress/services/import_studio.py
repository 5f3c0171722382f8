"""A studio made anew from its own document, all of it or nothing.

Every value is looked at before the database is: its type, its words, whose rows it names. People
are found by e-mail address; an account that is here already stays as it is, one that is made has no
password until its owner asks for one. Phones come without their secrets, so each is set up again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.db.models import Field, ForeignKey, Model
from django_scopes import scope

from progress.queries.tables import (
    EDITION,
    PEOPLE,
    STUDIO,
    STUDIO_FORMAT,
    TABLES,
    Table,
    as_json,
    name_of,
)
from progress.services.import_rules import fault
from routines.engine.dynamics import DynamicsError
from routines.engine.instruments import InstrumentError, by_id, clef
from routines.engine.plan import PlanError
from routines.models import Block, BlockVersion, Template
from routines.queries import setup_of
from studio import secrets
from studio.models import Grant, Student, Studio, User
from studio.services import erased_list
from studio.services.erase import erase_again, wipe_space

ROWS_AT_ONCE = 500
HEAD = frozenset({"format", "edition", "made_at"})
Known = dict[Any, dict[str, Any]]


class StudioFileError(ValueError):
    """A file that no studio can be made from; the message says where and what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What was made: the studio's public id, and how many rows of each kind."""

    studio: str
    rows: dict[str, int]


def import_studio(text: str) -> Made:
    """Make the studio from the text of its document; StudioFileError says why nothing was made."""
    document = _read(text)
    try:
        with transaction.atomic():
            made = _make(document)
            # A copy may be older than the day on which a student was erased here.
            listed = [*erased_list.from_table(), *erased_list.read(erased_list.path())]
            erased = erase_again({line.student_hash for line in listed})
    except DatabaseError as error:
        first = str(error).strip().splitlines()[0]
        message = f"The database did not take it, and nothing was written: {first}"
        raise StudioFileError(message) from error
    if erased:
        wipe_space()
    return made


def _read(text: str) -> dict[str, Any]:
    try:
        document = json.loads(text, parse_constant=_no_such_number)
    except (ValueError, RecursionError) as error:
        message = f"This is not a whole JSON document ({error}): give a file of export_studio."
        raise StudioFileError(message) from error
    wanted = {*HEAD, STUDIO.name, PEOPLE.name, *(table.name for table in TABLES)}
    if not isinstance(document, dict) or document.get("format") != STUDIO_FORMAT:
        message = f"This is no “{STUDIO_FORMAT}”: give a file of export_studio."
        raise StudioFileError(message)
    if document.get("edition") != EDITION:
        given = _short(document.get("edition"))
        message = f"Edition {given}: this program reads edition {EDITION}. Export it anew."
        raise StudioFileError(message)
    if set(document) != wanted:
        odd = ", ".join(sorted(map(str, wanted ^ set(document))))
        message = f"Parts that are missing or not known: {odd[:200]}. Give the file as it was made."
        raise StudioFileError(message)
    return document


def _no_such_number(name: str) -> NoReturn:
    message = f"{name} is not a number of JSON"
    raise ValueError(message)


def _make(document: Mapping[str, Any]) -> Made:
    values = _values(STUDIO, document[STUDIO.name], "studio")
    if Studio.objects.filter(public_id=values["public_id"]).exists():
        message = (
            f"The studio {values['public_id']} is here already: nothing was changed. "
            "Give a database without it."
        )
        raise StudioFileError(message)
    studio = _saved(STUDIO, [Studio(**values)])[0]
    known: Known = {User: _people(_list(document, PEOPLE.name))}
    counts = {PEOPLE.name: len(known[User])}
    with scope(studio=studio):
        for table in TABLES:
            rows = [
                _row(table, given, f"{table.name}, row {number}", studio, known)
                for number, given in enumerate(_list(document, table.name), start=1)
            ]
            saved = _saved(table, rows)
            if table.is_named:
                known[table.model] = {name_of(row): row for row in saved}
            counts[table.name] = len(saved)
    return Made(studio=studio.public_id, rows=counts)


def _list(document: Mapping[str, Any], name: str) -> list[Any]:
    rows = document[name]
    if not isinstance(rows, list):
        message = f"{name}: {_short(rows)} is no list of rows. Give the file as it was made."
        raise StudioFileError(message)
    return rows


def _people(rows: Iterable[Any]) -> dict[str, User]:
    """Find the accounts by e-mail address, and make those that are not here."""
    found: dict[str, User] = {}
    for number, given in enumerate(rows, start=1):
        values = _values(PEOPLE, given, f"{PEOPLE.name}, row {number}")
        email = values["email"]
        user = User.objects.filter(email__iexact=email).first()
        if user is None:
            user = User(**values)
            user.set_unusable_password()
            user.save()
            User.objects.filter(pk=user.pk).update(made_at=values["made_at"])
        found[email] = user
    return found


def _row(table: Table, given: Any, where: str, studio: Studio, known: Known) -> Model:
    values = _values(table, given, where)
    for field in table.references:
        values[field.name] = _named(field, given[field.name], where, known)
    if "studio" in table.left_out:
        values["studio"] = studio
    if table.model is Grant:
        values["secret_hash"] = secrets.hashed(secrets.new_secret())
        values["ended_at"] = values["expires_at"] = values["made_at"]
    row = table.model(**values)
    _check_whose(row, table, where)
    _check_playable(row, where)
    return row


def _values(table: Table, given: Any, where: str) -> dict[str, Any]:
    """Read the values of one row; what they name is looked up apart."""
    if not isinstance(given, dict):
        message = f"{where}: {_short(given)} is no row. Give the file as it was made."
        raise StudioFileError(message)
    odd = {field.name for field in table.fields} ^ set(given)
    if odd:
        names = ", ".join(sorted(map(str, odd)))[:200]
        message = f"{where}: missing or not known: {names}. Give the file as it was made."
        raise StudioFileError(message)
    return {field.name: _value(table, field, given[field.name], where) for field in table.values}


def _value(table: Table, field: Field[Any, Any], given: Any, where: str) -> Any:
    """Read one value; it must be written just as an export writes it."""
    wrong: str | None = None
    value = None
    try:
        value = field.to_python(given)
        field.run_validators(value)
    except ValidationError as error:
        wrong = " ".join(error.messages)
    except (TypeError, ValueError, OverflowError):
        wrong = "it cannot be read"
    if wrong is None and not (as_json(value) == given and _same_kind(given, value)):
        wrong = "it is not written as an export writes it"
    if (value is None and not field.null) or (value == "" and not field.blank):
        wrong = wrong or "it must be given"
    wrong = wrong or fault(table.model, field.name, value, may_be_blank=field.blank)
    if wrong:
        message = f"{where}, {field.name} {_short(given)}: {wrong.rstrip('.')}."
        raise StudioFileError(message)
    return value


def _same_kind(given: Any, value: Any) -> bool:
    """Tell true, 1 and 1.0 apart, which Python takes for equal."""
    return not isinstance(given, int | float) or type(given) is type(value)


def _named(field: ForeignKey[Any, Any], given: Any, where: str, known: Known) -> Any:
    if given is None and field.null:
        return None
    row = known.get(field.related_model, {}).get(given) if isinstance(given, str) else None
    if row is None:
        message = f"{where}, {field.name} {_short(given)}: there is no such row in this file."
        raise StudioFileError(message)
    return row


def _check_whose(row: Model, table: Table, where: str) -> None:
    """Refuse a row that names the rows of two students."""
    owners = {
        _student_of(named)
        for field in table.references
        if (named := getattr(row, field.name)) is not None
    } - {None}
    if len(owners) > 1:
        message = f"{where}: it names rows of two students. Give the file as it was made."
        raise StudioFileError(message)


def _student_of(row: Model) -> int | None:
    if isinstance(row, Student):
        return row.pk
    if isinstance(row, BlockVersion):
        return int(row.block.student_id)
    return getattr(row, "student_id", None)


def _check_playable(row: Model, where: str) -> None:
    """Refuse a plan that the instrument cannot play, as the pages do."""
    try:
        if isinstance(row, BlockVersion | Template):
            _ = row.plan
        elif isinstance(row, Block):
            _ = row.month
        elif isinstance(row, Student):
            clef(by_id(row.instrument), setup_of(row, row.instrument))
    except (PlanError, DynamicsError, InstrumentError) as error:
        message = f"{where}: {error}"
        raise StudioFileError(message) from error


def _saved(table: Table, rows: list[Any]) -> list[Any]:
    """Write rows as they are given, with the moments they were made at."""
    stamped = [field.name for field in table.values if getattr(field, "auto_now_add", False)]
    given = [[getattr(row, name) for name in stamped] for row in rows]
    # Every row is set by hand, so the manager that keeps to a studio has nothing to do.
    manager = table.model._base_manager  # noqa: SLF001 - Django's own way to any model's rows
    made = manager.bulk_create(rows, ROWS_AT_ONCE)
    for row, moments in zip(made, given, strict=True):
        for name, moment in zip(stamped, moments, strict=True):
            setattr(row, name, moment)
    if stamped:
        manager.bulk_update(made, stamped, ROWS_AT_ONCE)
    return made


def _short(value: Any) -> str:
    return ascii(value)[:60]
