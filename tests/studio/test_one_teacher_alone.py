"""What is done to one teacher, invitation or studio leaves every other one as it is.

Common practice of access control, no published source: who may what is said in docs/roles.md.
"""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django_scopes import scope, scopes_disabled

from studio.models import AuditLine, Invitation, Membership, Student
from studio.services import team
from studio.words import AuditKind, Role
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)

Ways = Mapping[str, Callable[[], object]]

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio():
    return makers.a_studio()


@pytest.fixture
def ada(studio):
    return makers.place_of(makers.a_teacher(studio, name="Ada", role=Role.OWNER))


@pytest.fixture
def bea(studio):
    return makers.place_of(makers.a_teacher(studio, name="Bea"))


@pytest.fixture(autouse=True)
def inside(studio):
    with scope(studio=studio):
        yield


def an_owner_elsewhere() -> Membership:
    return makers.place_of(makers.a_teacher(makers.a_studio(), name="Ivo", role=Role.OWNER))


def kinds() -> list[str]:
    with scopes_disabled():
        return list(AuditLine.objects.order_by("pk").values_list("kind", flat=True))


def invites(ada: Membership) -> team.MadeInvitation:
    return team.invite_teacher(ada, role=Role.TEACHER, ends_on=None, email="", moment=NOW)


def ways(ada: Membership, bea: Membership, nor: Student, open_one: Invitation) -> Ways:
    said: dict[str, Any] = {"by": ada, "moment": NOW}
    return {
        "invite": lambda: invites(ada),
        "call off": lambda: team.call_off_invitation(open_one, **said),
        "join": lambda: team.join_studio(open_one, user=an_owner_elsewhere().user, moment=NOW),
        "change": lambda: team.change_teacher(bea, role=Role.OWNER, ends_on=None, **said),
        "end": lambda: team.end_membership(bea, **said),
        "hand over": lambda: team.hand_over_student(nor, to=bea, **said),
    }


def as_stored(studio) -> list[object]:
    with scopes_disabled():
        return [
            list(rows.filter(studio=studio).order_by("pk").values())
            for rows in (Membership.objects, Invitation.objects, Student.objects)
        ]


@pytest.mark.parametrize("way", ["invite", "call off", "join", "change", "end", "hand over"])
def test_what_is_done_and_its_line_in_the_record_stand_or_fall_together(
    studio, ada, bea, monkeypatch, way
):
    nor, open_one = makers.a_student(studio), makers.an_invitation(studio, made_at=NOW)
    before = as_stored(studio)

    with monkeypatch.context() as broken:
        broken.setattr(team, "record", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            ways(ada, bea, nor, open_one)[way]()
    assert as_stored(studio) == before
    nor.refresh_from_db()
    bea.refresh_from_db()

    ways(ada, bea, nor, open_one)[way]()
    assert as_stored(studio) != before
    assert len(kinds()) == 1


def test_an_invitation_is_called_off_or_used_up_alone_and_only_while_it_is_open(studio, ada):
    one, other, third = (makers.an_invitation(studio, made_at=NOW) for _ in range(3))
    over = makers.an_invitation(studio, made_at=NOW - 100 * HOUR)

    team.call_off_invitation(one, by=ada, moment=NOW)
    team.call_off_invitation(over, by=ada, moment=NOW)
    assert team.join_studio(other, user=an_owner_elsewhere().user, moment=NOW) is not None
    assert team.join_studio(over, user=an_owner_elsewhere().user, moment=NOW) is None

    for invitation in (one, other, third, over):
        invitation.refresh_from_db()
    assert [one.expires_at, over.expires_at] == [NOW, NOW - 28 * HOUR]
    assert [row.used_at for row in (one, other, third, over)] == [None, NOW, None, None]
    assert third.expires_at == NOW + 72 * HOUR
    assert kinds() == [AuditKind.CALLED_OFF, AuditKind.JOINED]


def test_an_invitation_says_who_made_it(ada):
    assert invites(ada).invitation.made_by == ada.user


@pytest.mark.parametrize(("days_left", "is_there"), [(-1, False), (0, True), (1, True)])
def test_who_covers_teaches_here_to_the_end_of_the_last_day(studio, ada, days_left, is_there):
    place = makers.place_of(makers.a_teacher(studio, name="Eva", role=Role.COVER))
    last_day = NOW.date() + days_left * DAY
    team.change_teacher(place, role=Role.COVER, ends_on=last_day, by=ada, moment=NOW)
    invited = makers.an_invitation(studio, made_at=NOW)

    if is_there:
        with pytest.raises(team.AlreadyThereError):
            team.join_studio(invited, user=place.user, moment=NOW)
    else:
        assert team.join_studio(invited, user=place.user, moment=NOW) == place


@pytest.mark.parametrize("others", ["a teacher of the studio", "an owner of another studio"])
def test_only_an_owner_of_the_same_studio_lets_the_last_owner_go(studio, ada, others):
    if others == "a teacher of the studio":
        makers.a_teacher(studio, name="Bea")
    else:
        an_owner_elsewhere()

    # As a command on the server asks, which sees all studios.
    with scopes_disabled(), pytest.raises(team.LastOwnerError):
        team.end_membership(ada, by=ada, moment=NOW)


def test_the_last_owner_may_be_said_to_be_the_owner_again(ada):
    changed = team.change_teacher(ada, role=Role.OWNER, ends_on=None, by=ada, moment=NOW)

    assert (changed, changed.role) == (ada, Role.OWNER)
    assert kinds() == [AuditKind.ROLE]


def test_who_leaves_one_studio_keeps_the_students_of_the_other(studio, ada, bea):
    elsewhere = makers.a_studio()
    with scopes_disabled():
        Membership.objects.create(studio=elsewhere, user=bea.user, role=Role.TEACHER)
    here, there = (
        makers.a_student(where, teacher=bea.user, name="Nor") for where in (studio, elsewhere)
    )

    with scopes_disabled():
        assert team.end_membership(bea, by=ada, moment=NOW) == 1
        for student in (here, there):
            student.refresh_from_db()
    assert (here.teacher, there.teacher) == (None, bea.user)
    assert kinds() == [AuditKind.LEFT]


def test_a_teacher_is_taken_out_with_all_that_goes_along_or_stays(studio, ada, bea, monkeypatch):
    def fails(*_args, **_kwargs):
        raise ZeroDivisionError

    before = as_stored(studio)
    monkeypatch.setattr("studio.services.letters.pass_on", fails)

    with pytest.raises(ZeroDivisionError):
        team.end_membership(bea, by=ada, moment=NOW)

    assert (as_stored(studio), kinds()) == (before, [])


def test_who_has_left_already_left_when_they_left(ada, bea):
    team.end_membership(bea, by=ada, moment=NOW)
    team.end_membership(bea, by=ada, moment=NOW + DAY)

    bea.refresh_from_db()
    assert bea.ended_at == NOW


def test_whose_students_a_list_shows_is_chosen_for_oneself(ada, bea):
    team.choose_whose_students(bea, own_only=True)

    for place in (ada, bea):
        place.refresh_from_db()
    assert (ada.own_students_only, bea.own_students_only) == (False, True)
