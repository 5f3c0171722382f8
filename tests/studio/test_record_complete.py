"""Every kind of line of the record: written once when it happens, by ids, and by nothing else."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.services.drop_old import drop_old
from studio.models import AuditLine, Membership, Student, Studio, User
from studio.words import AuditKind, GrantState, Role
from tests import makers, tree
from tests.progress import recording_makers

pytestmark = pytest.mark.django_db
CANARY = "Quillfeather"
TOKEN = "canary-token-that-opens-a-door"
DOCUMENT = (tree.TOP / "docs/data.md").read_text()


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A studio in which something is about to happen."""

    studio: Studio
    owner: User
    nor: Student
    browser: Client

    def post(self, address: str, **fields: str) -> None:
        answer = self.browser.post(address, fields)
        assert answer.status_code in {200, 302}, answer.status_code

    def at(self, name: str, *ids: str) -> str:
        return reverse(name, args=ids)

    @property
    def student(self) -> str:
        return f"/students/{self.nor.public_id}"

    def phone(self, **values: Any) -> str:
        """Set a phone up and give the address of what may be said to it."""
        return f"/phones/{makers.a_grant(self.nor, **values).grant.public_id}"


@pytest.fixture
def scene() -> Scene:
    studio = makers.a_studio(name=f"Studio {CANARY}")
    owner = makers.a_teacher(studio, role=Role.OWNER, name=f"Runa {CANARY}")
    nor = makers.a_student(studio, name=f"Nor {CANARY}", parent_email="quillfeather@example.org")
    browser = makers.signed_in(owner)
    browser.post(reverse("account_reauthenticate"), {"password": makers.PASSWORD})
    return Scene(studio=studio, owner=owner, nor=nor, browser=browser)


def member(scene: Scene) -> Membership:
    return makers.place_of(makers.a_teacher(scene.studio, name=f"Bea {CANARY}"))


def call_off(scene: Scene) -> None:
    invitation = makers.an_invitation(scene.studio, by=scene.owner)
    scene.post(scene.at("studio:call_off_invitation", invitation.public_id))


def join(scene: Scene) -> None:
    makers.an_invitation(scene.studio, by=scene.owner, token=TOKEN)
    newcomer = makers.signed_in(makers.a_teacher(name=f"Ivo {CANARY}"))
    newcomer.post("/join", {"token": TOKEN})
    newcomer.post("/join/studio")


def hand_over(scene: Scene) -> None:
    scene.post(scene.at("studio:hand_over", scene.nor.public_id), to=member(scene).public_id)


def come_back(scene: Scene) -> None:
    Student._base_manager.filter(pk=scene.nor.pk).update(archived_on=timezone.now().date())
    scene.post(f"{scene.student}/archive")


def give_consent(scene: Scene) -> None:
    scene.post(
        f"{scene.student}/details", name=f"Nor {CANARY}", instrument="trumpet_bb", grade="open",
        child="yes", consent_on="2026-02-01", consent_how=f"spoke with {CANARY}",
        parent_email="quillfeather@example.org",
    )  # fmt: skip


def set_up(scene: Scene) -> None:
    makers.an_offer(scene.nor, token=TOKEN)
    Client().post("/pair", {"token": TOKEN})


def take_back(scene: Scene) -> None:
    scene.post(f"{scene.phone(state=GrantState.REFUSED, ended_at=timezone.now())}/take-back")


def drop(scene: Scene) -> None:
    makers.a_not_today(scene.nor, day=makers.today(scene.studio) - timedelta(days=2000))
    drop_old(scene.studio, moment=timezone.now(), today=makers.today(scene.studio))


def take_a_recording(scene: Scene) -> None:
    row = recording_makers.a_recording(scene.nor)
    scene.post(f"/recordings/{row.public_id}/keep")


HAPPENS: dict[AuditKind, Callable[[Scene], None]] = {
    AuditKind.INVITED: lambda s: s.post(
        "/settings/teachers/invite", role="teacher", email="quillfeather@example.org"
    ),
    AuditKind.CALLED_OFF: call_off,
    AuditKind.JOINED: join,
    AuditKind.ROLE: lambda s: s.post(s.at("studio:teacher", member(s).public_id), role="owner"),
    AuditKind.LEFT: lambda s: s.post(s.at("studio:remove_teacher", member(s).public_id), sure="on"),
    AuditKind.HANDED_OVER: hand_over,
    AuditKind.ERASED: lambda s: s.post(f"{s.student}/erase", name=f"Nor {CANARY}"),
    AuditKind.OFF_THE_LISTS: lambda s: s.post(f"{s.student}/archive"),
    AuditKind.BACK: come_back,
    AuditKind.CONSENT: give_consent,
    AuditKind.LINK: lambda s: s.post(f"{s.student}/phones/link"),
    AuditKind.SET_UP: set_up,
    AuditKind.CONFIRMED: lambda s: s.post(f"{s.phone(state=GrantState.PROVISIONAL)}/confirm"),
    AuditKind.REFUSED: lambda s: s.post(f"{s.phone(state=GrantState.PROVISIONAL)}/refuse"),
    AuditKind.TAKEN_BACK: take_back,
    AuditKind.SIGNED_OUT: lambda s: s.post(f"{s.phone()}/sign-out"),
    AuditKind.PARENTS_SEE: lambda s: s.post(f"{s.student}/parents-see", see="yes"),
    AuditKind.COPIED_STUDENT: lambda s: s.post(f"{s.student}/copy.json"),
    AuditKind.COPIED_STUDIO: lambda s: s.post(s.at("progress:studio_copy")),
    AuditKind.SETTINGS: lambda s: s.post("/settings/privacy", keep_months="36"),
    AuditKind.DROPPED: drop,
    AuditKind.RECORDINGS: lambda s: s.post(
        s.at("progress:recordings", s.nor.public_id),
        is_on="on", agreed_on="2026-02-01", agreed_how=f"spoke with {CANARY}", keep_days="60",
    ),
    AuditKind.HEARD_TAKEN: take_a_recording,
}  # fmt: skip


def test_every_kind_happens_here():
    assert set(HAPPENS) == set(AuditKind)


@pytest.mark.parametrize("kind", list(AuditKind))
def test_what_happens_stands_there_once_without_a_name_a_word_or_a_token(kind, scene):
    HAPPENS[kind](scene)

    with scopes_disabled():
        lines = list(AuditLine.objects.filter(studio=scene.studio).values())
    assert [line["kind"] for line in lines] == [kind]
    assert CANARY.lower() not in str(lines).lower()
    assert TOKEN not in str(lines)
    assert re.fullmatch(r"[0-9a-f]{16}|erased|", lines[0]["about"])


def test_the_document_lists_every_kind():
    part = DOCUMENT.split("## The record of what was done", 1)[1].split("\n## ", 1)[0]
    listed = re.findall(r"^\| `([^`]+)` \|", part, re.M)

    assert listed == [str(kind) for kind in AuditKind]


WRITERS = {
    "studio/services/record.py": "create",
    "studio/services/erase.py": "update",
    "progress/services/drop_old.py": "filter",  # and deletes what is older than 400 days
    "studio/team_queries.py": "filter",
}


def changes_of_the_record() -> set[str]:
    """Name the modules that reach the lines of the record."""
    return {
        tree.name(path)
        for path in tree.files(*tree.APPS, suffix=".py")
        if re.search(r"\bAuditLine\.(objects|_base_manager|_default_manager)", path.read_text())
    }


def test_lines_are_written_in_one_place_and_changed_where_a_student_is_erased_alone():
    assert changes_of_the_record() == set(WRITERS)


def test_no_page_takes_a_line_away(scene):
    HAPPENS[AuditKind.LINK](scene)
    with scope(studio=scene.studio):
        before = list(AuditLine.objects.values_list("pk", flat=True))

    for kind, happens in HAPPENS.items():
        if kind is not AuditKind.ERASED:
            happens(scene)

    with scope(studio=scene.studio):
        assert set(before) <= set(AuditLine.objects.values_list("pk", flat=True))
