"""Two whole studios: one whose people ask, and one whose every written word is a canary.

Studio B has a row of every model that belongs to a studio, and each text in it that people wrote,
or that is secret, is a word found nowhere else. Who sees such a word in studio A has seen through
the wall.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from html.parser import HTMLParser
from http.cookies import SimpleCookie
from itertools import count
from typing import Any
from uuid import uuid4

from django.db.models import CharField, Model, TextField
from django.test import Client
from django.test.client import ClientHandler
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.models import KeptMonth, LessonRating, Report, SetAside
from studio import crossings
from studio.models import AuditLine, Letter, Studio, User
from studio.words import GrantKind, Role
from tests import makers
from tests.progress import recording_makers

CANARY = re.compile(r"qv\d{4}zk", re.IGNORECASE)

# Texts that are one of a few words, or a random id: what they say tells nobody apart.
VOCABULARY = {
    *("Studio.public_id", "Studio.time_zone", "Studio.note_naming", "Studio.caution"),
    *("Membership.public_id", "Membership.role", "User.look", "User.password"),
    *("Student.public_id", "Student.instrument", "Student.clef", "Student.grade"),
    *("Student.note_naming", "Interruption.public_id", "Interruption.kind"),
    *("Discomfort.public_id", "Discomfort.place", "Discomfort.how_much"),
    *("Offer.public_id", "Offer.kind", "Offer.code_finder", "Grant.public_id", "Grant.kind"),
    *("Grant.state", "Invitation.public_id", "Invitation.role", "AuditLine.kind", "AuditLine.to"),
    *("AuditLine.about", "Block.public_id", "Block.instrument", "Block.variant", "Block.aim"),
    *("Block.batch", "Block.ended_by_batch", "BlockVersion.back", "BlockVersion.dynamics"),
    *("BlockVersion.clef", "Template.public_id", "Template.instrument", "Template.pitch"),
    *("Template.back", "Template.dynamics", "Template.aim", "CheckIn.public_id", "CheckIn.zone"),
    *("CheckIn.source", "CheckIn.discomfort", "CheckIn.place", "CheckIn.stopped_because"),
    *("NotToday.public_id", "NotToday.reason", "LessonRating.public_id", "Decision.public_id"),
    *("Decision.choice", "Report.public_id", "Recording.public_id", "Recording.state"),
    *("Recording.file", "Recording.sha256"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole:
    """A studio with a row of every kind, and the browsers of its people."""

    studio: Studio
    owner: User
    objects: dict[str, str]
    cookies: dict[str, SimpleCookie]


def a_whole_studio(name: str) -> Whole:
    """Make a studio with one of everything, and the names of its rows in addresses."""
    studio = makers.a_studio(name=name)
    owner = makers.a_teacher(studio, name=f"Owner of {name}", role=Role.OWNER)
    nor = makers.a_student(
        studio, name=f"Nor of {name}", group=f"Group of {name}", teacher=owner,
        parent_email=f"parent{next(_numbers)}@example.org",
    )  # fmt: skip
    day, moment = makers.today(studio), timezone.now()
    offer = makers.an_offer(nor, by=owner)
    phone = makers.a_grant(nor, offer=offer)
    block = makers.a_block(nor, message=f"Message of {name}", by=owner)
    check_in = makers.a_check_in(nor, block=block, grant=phone.grant, words=f"Words of {name}")
    aside = makers.a_check_in(nor, block=block, day=day - timedelta(days=1))
    makers.a_not_today(nor, day=day - timedelta(days=2))
    with scopes_disabled():
        SetAside.objects.create(check_in=aside, by=owner, made_at=moment)
        LessonRating.objects.create(
            student=nor, block=block, by=owner, day=day, filed_on=day, sound=4, note="Heard"
        )
        Report.objects.create(
            student=nor, first_day=day - timedelta(days=28), last_day=day, words="Report",
            by=owner, changed_at=moment,
        )  # fmt: skip
        Letter.objects.create(
            studio=studio, student=nor, key=str(uuid4()), to="x@example.org", subject="Subject",
            body="Body", stop="Stop", made_at=moment, next_try_at=moment + timedelta(days=900),
        )  # fmt: skip
        KeptMonth.objects.create(student=nor, month=day.replace(day=1), days=3, hurt_days=0)
        AuditLine.objects.create(studio=studio, moment=moment, by=owner, kind="joined", about="x")
    recording_makers.leave(nor)
    recording = recording_makers.a_recording(nor, block=block, grant=phone.grant)
    colleague = makers.a_teacher(studio, name=f"Bea of {name}")
    objects = {
        "student_id": nor.public_id,
        "grant_id": phone.grant.public_id,
        "discomfort_id": makers.a_discomfort(nor).public_id,
        "check_in_id": check_in.public_id,
        "interruption_id": makers.an_interruption(nor, note=f"Note of {name}").public_id,
        "batch": block.batch,
        "block_id": block.public_id,
        "decision_id": makers.a_decision(block, by=owner).public_id,
        "template_id": makers.a_template(studio, name=f"Template of {name}", by=owner).public_id,
        "member_id": makers.place_of(colleague).public_id,
        "invitation_id": makers.an_invitation(studio, by=owner, email="i@example.org").public_id,
        "studio_id": studio.public_id,
        "recording_id": recording.public_id,
    }
    parents = makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT))
    return Whole(
        studio=studio,
        owner=owner,
        objects=objects,
        cookies={
            "owner": makers.signed_in(owner).cookies,
            "student's phone": makers.a_phone(phone).cookies,
            "parent's phone": parents.cookies,
            "nobody": SimpleCookie(),
        },
    )


def fill_with_canaries(whole: Whole) -> set[str]:
    """Turn every text of a studio that is not of the vocabulary into a word of its own."""
    written = set()
    for model, row in every_row(whole):
        changed = {}
        for field in texts_of(model):
            if field not in VOCABULARY:
                name = field.partition(".")[2]
                word = f"qv{next(_numbers) % 10_000:04d}zk"
                kind = model._meta.get_field(name).get_internal_type()
                is_mail = kind == "EmailField" or "@" in str(getattr(row, name))
                changed[name] = f"{word}@example.org" if is_mail else word
                written.add(field)
        if changed:
            model._base_manager.filter(pk=row.pk).update(**changed)
    return written


def every_row(whole: Whole) -> Iterator[tuple[type[Model], Any]]:
    """Go through all rows of one studio, the studio itself and its teachers' accounts."""
    with scope(studio=whole.studio):
        kinds: list[type[Model]] = [Studio, User, *crossings.owned_models()]
        for model in kinds:
            rows = model._default_manager.order_by("pk")
            if model is Studio:
                rows = rows.filter(pk=whole.studio.pk)
            if model is User:
                rows = rows.filter(membership__studio=whole.studio)
            for row in rows:
                yield model, row


def texts_of(model: type[Model]) -> list[str]:
    """Name the text columns of a model, as "Model.column"."""
    return [
        f"{model.__name__}.{field.name}"
        for field in model._meta.concrete_fields
        if isinstance(field, CharField | TextField)
    ]


def as_stored(whole: Whole) -> str:
    """Write down all rows of a studio, so that any change to them shows."""
    rows = [
        (model.__name__, {f.attname: getattr(row, f.attname) for f in model._meta.concrete_fields})
        for model, row in every_row(whole)
    ]
    return json.dumps(rows, default=str, sort_keys=True)


def names_of(whole: Whole) -> list[str]:
    """List every name and number by which rows of a studio could be asked for."""
    found = set()
    for _model, row in every_row(whole):
        given = [getattr(row, "public_id", None), getattr(row, "key", None), row.pk]
        found |= {str(one) for one in given if one is not None}
    return sorted(one for one in found if not CANARY.search(one))


class Forms(HTMLParser):
    """The forms that a page posts: where each sends to, and what it would send untouched."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.select, self.is_inside = "", False
        self.feed(page)

    def handle_endtag(self, tag: str) -> None:
        self.is_inside = self.is_inside and tag != "form"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.is_inside = given.get("method", "").lower() == "post"
        if tag == "form" and self.is_inside:
            self.found.append((given.get("action", ""), {}))
        if not self.is_inside:
            return
        fields, name = self.found[-1][1], given.get("name", "")
        if tag in {"input", "textarea", "button"} and name:
            is_choice = given.get("type") in {"radio", "checkbox"}
            if not is_choice or "checked" in given or name not in fields:
                fields[name] = given.get("value", "on" if is_choice else "")
        if tag == "select":
            self.select = name
        is_first = self.select not in fields
        if tag == "option" and self.select and ("selected" in given or is_first):
            fields[self.select] = given.get("value", "")


def a_browser(cookies: SimpleCookie) -> Client:
    """Make a browser that shows these cookies, and answers a fault with its page.

    All of them ask through one handler: a new one would look through every static file anew.
    """
    client = Client(raise_request_exception=False)
    client.handler = _HANDLER
    client.cookies.load(cookies)
    return client


_HANDLER = ClientHandler(enforce_csrf_checks=False)
_numbers = count(1)
