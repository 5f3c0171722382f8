"""Bringing a studio in from its file: whole, or not at all."""

import json
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import IO, Any, NoReturn

from django.contrib.auth.hashers import make_password
from django.db import DatabaseError, IntegrityError, transaction
from django.db.models import Model
from django_scopes import scope

from progress.models import CheckIn
from progress.queries.file_parts import ID, PARTS, Column, Part, columns
from progress.queries.file_values import BadValueError, from_json
from progress.services import file_rules
from routines.models import BlockVersion
from studio.models import Grant, Membership, Studio, User
from studio.words import Role

FORMAT, VERSION = "filar-studio", 1
HEAD = {"format", "version", "exported_at", "about"}
ROWS_AT_ONCE = 500
NEVER_OPENS = ""


class FileError(ValueError):
    """The file cannot be brought in; the message says why, in one line. Nothing was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtIn:
    """What was brought in: the studio, how many rows of each part, who owns it."""

    studio: Studio
    counts: dict[str, int]
    owners: Sequence[str]


@dataclass(slots=True)
class _Known:
    """The rows of this file that others may name, by model and name."""

    studio: Studio | None = None
    rows: dict[type[Model], dict[Any, Any]] = field(default_factory=dict)


def bring_in(file: IO[str]) -> BroughtIn:
    """Read a studio's file and write its rows, all or none; FileError says what is wrong."""
    document = _document(file)
    known, counts = _Known(), {}
    try:
        with transaction.atomic(), ExitStack() as scopes:
            for part in PARTS:
                # Handed over and dropped, so that rows are not held as text and as rows.
                given = document.pop(part.name)
                counts[part.name] = len(given)
                if part.model is Studio and len(given) != 1:
                    _refuse("studio: a file holds exactly one")
                _bring_in_part(part, given, known)
                if part.model is Studio:
                    scopes.enter_context(scope(studio=known.studio))
            return _brought_in(known, counts)
    except IntegrityError as error:
        words = str(error).splitlines()[0]
        _refuse(f"two rows do not go together, or a row breaks a rule ({words})", error)
    except DatabaseError as error:
        _refuse(f"the database refused a row ({str(error).splitlines()[0]})", error)


def _document(file: IO[str]) -> dict[str, Any]:
    try:
        document = json.load(file, object_pairs_hook=_once, parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        _refuse("it is not UTF-8 text", error)
    except json.JSONDecodeError as error:
        _refuse(f"it is no JSON, or a part is missing: line {error.lineno}", error)
    except RecursionError as error:
        _refuse("it is nested too deep", error)
    except ValueError as error:
        _refuse(str(error)[:200], error)
    return _of_our_kind(document)


def _of_our_kind(document: Any) -> dict[str, Any]:
    """Take a document of this format and version, with every part and nothing else."""
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        _refuse(f'it is no studio’s file: those begin with "format": "{FORMAT}"')
    if document.get("version") != VERSION or isinstance(document["version"], bool):
        given = ascii(document.get("version"))[:20]
        _refuse(f"version {given}: this program reads version {VERSION}")
    expected = HEAD | {part.name for part in PARTS}
    if odd := sorted(set(document) ^ expected):
        word = "is missing" if odd[0] in expected else "is not known"
        _refuse(f"{ascii(odd[0])[:40]} {word}")
    for part in PARTS:
        if not isinstance(document[part.name], list):
            _refuse(f"{part.name} is not a list")
    return document


def _bring_in_part(part: Part, given: list[Any], known: _Known) -> None:
    listed = columns(part)
    numbered = iter(enumerate(given, start=1))
    while rows := list(_some(part, listed, numbered, known)):
        _write(part, rows, known)
        names = known.rows.setdefault(part.model, {})
        names.update({_name_of(part, row): _stand_in(row) for row in rows})


def _some(
    part: Part, listed: tuple[Column, ...], numbered: Iterator[tuple[int, Any]], known: _Known
) -> Iterator[Model]:
    """Make up to so many rows, so that no more are held twice."""
    for number, given in numbered:
        try:
            yield _row(part, listed, given, known)
        except (ValueError, OverflowError) as error:
            _refuse(f"{part.name}, row {number}: {' '.join(str(error).split())[:300]}", error)
        if number % ROWS_AT_ONCE == 0:
            return


def _row(part: Part, listed: tuple[Column, ...], given: Any, known: _Known) -> Model:
    if not isinstance(given, dict):
        message = "is not an object"
        raise BadValueError(message)
    names = {column.name for column in listed}
    if unknown := sorted(set(given) - names):
        message = f"{ascii(unknown[0])[:40]} is not known"
        raise BadValueError(message)
    row = part.model(**_values_nobody_sent(part, known))
    for column in listed:
        if column.name not in given:
            if not (column.field.has_default() or column.field.null) or column.name == ID:
                message = f"{column.name} is missing"
                raise BadValueError(message)
            continue
        setattr(row, column.field.name, _value(row, column, given[column.name], known))
    file_rules.check(row)
    if isinstance(row, Grant):
        row.ended_at = row.expires_at = row.made_at
    return row


def _value(row: Model, column: Column, given: Any, known: _Known) -> Any:
    if column.to is None:
        try:
            return from_json(column.field, given)
        except BadValueError as error:
            message = f"{column.name} {error}"
            raise BadValueError(message) from None
    if given is None and column.field.null:
        return None
    name = (
        (row.block_id, given) if isinstance(row, CheckIn) and column.to is BlockVersion else given
    )
    found = known.rows.get(column.to, {}).get(name) if isinstance(given, str) else None
    if found is None:
        message = f"{column.name} {ascii(given)[:40]} is no row of this file"
        raise BadValueError(message)
    return found


def _values_nobody_sent(part: Part, known: _Known) -> dict[str, Any]:
    """Give what stays behind the value that it has in a new place."""
    if part.model is User:
        return {"password": make_password(None)}
    if part.model is Grant:
        return {"secret_hash": NEVER_OPENS}
    fields = {each.name for each in part.model._meta.concrete_fields}  # noqa: SLF001
    return {"studio": known.studio} if "studio" in fields else {}


def _name_of(part: Part, row: Any) -> Any:
    if isinstance(row, BlockVersion):
        return (row.block_id, row.from_day.isoformat())
    return getattr(row, part.key, row.pk)


def _stand_in(row: Model) -> Model:
    """Keep of a row what later ones ask it; a studio has tens of thousands of check-ins."""
    return CheckIn(pk=row.pk, student_id=row.student_id) if isinstance(row, CheckIn) else row


def _write(part: Part, rows: Sequence[Any], known: _Known) -> None:
    """Write rows as they are: a column that is dated by itself keeps the file's date."""
    if part.model is Studio:
        known.studio = rows[0]
        if Studio.objects.filter(public_id=rows[0].public_id).exists():
            _refuse("this database holds that studio already: bring it into an empty one")
    if part.model is User:
        emails = {row.email for row in rows}
        taken = User.objects.filter(email__in=emails).values_list("email", flat=True)
        if taken:
            _refuse(f"{ascii(taken[0])[:60]} can sign in here already: use an empty database")
    fields = part.model._meta.concrete_fields  # noqa: SLF001
    if any(getattr(each, "auto_now_add", False) for each in fields):
        for row in rows:
            row.save_base(raw=True, force_insert=True)
    else:
        part.model._default_manager.bulk_create(rows, batch_size=ROWS_AT_ONCE)  # noqa: SLF001


def _brought_in(known: _Known, counts: dict[str, int]) -> BroughtIn:
    owners = Membership.objects.filter(role=Role.OWNER, ended_at__isnull=True)
    emails = list(owners.order_by("pk").values_list("user__email", flat=True))
    if not emails or known.studio is None:
        _refuse("memberships: nobody owns the studio")
    return BroughtIn(studio=known.studio, counts=counts, owners=emails)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make an object; a name that stands in it twice could mean either."""
    made = dict(pairs)
    if len(made) != len(pairs):
        message = "an object names something twice"
        raise FileError(message)
    return made


def _no_constant(name: str) -> NoReturn:
    message = f"{name} is not a number"
    raise FileError(message)


def _refuse(why: str, cause: Exception | None = None) -> NoReturn:
    raise FileError(f"Nothing was brought in: {why}.") from cause
