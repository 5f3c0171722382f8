"""What has been ended since a backup stays ended when the backup is put back."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.queries.news import standing_check_ins
from studio.models import Grant, Membership, Student
from studio.services import backups, ended_since, pairing, team
from studio.words import GrantState, Role
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("kept")]


@pytest.fixture
def runa():
    return makers.place_of(makers.a_teacher(role=Role.OWNER))


@pytest.fixture
def nor(runa):
    return makers.a_student(runa.studio)


@pytest.fixture
def bea(runa):
    return makers.place_of(makers.a_teacher(runa.studio, name="Bea", role=Role.TEACHER))


def say(_words: str) -> None:
    """Nobody listens in a test."""


def make(settings) -> Path:
    return backups.make(settings.BACKUPS, moment=NOW, say=say)


def put_back(file: Path, *, moment: datetime = NOW) -> backups.CaughtUp:
    return backups.restore(file, replace=True, moment=moment, say=say).caught_up


def stored(grant: Grant) -> Grant:
    found: Grant = Grant._base_manager.get(public_id=grant.public_id)
    return found


def test_a_phone_refused_since_stays_refused_and_what_it_filed_set_aside(nor, settings):
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    makers.a_check_in(nor, grant=strangers)
    file = make(settings)
    pairing.refuse_phone(strangers, moment=NOW)

    done = put_back(file)

    assert done.signed_out == 1
    assert (stored(strangers).state, stored(strangers).ended_at is None) == ("refused", False)
    with scopes_disabled():
        assert standing_check_ins().count() == 0


def test_one_that_had_signed_itself_out_then_and_was_refused_since_is_refused(nor, settings):
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    pairing.sign_out_phone(strangers, moment=NOW)
    file = make(settings)
    pairing.refuse_phone(strangers, moment=NOW)

    put_back(file)

    assert stored(strangers).state == "refused"


def test_a_phone_nobody_ended_goes_on(nor, settings):
    grant = makers.a_grant(nor).grant

    done = backups.restore(make(settings), replace=True, moment=NOW, say=say)

    assert (done.caught_up.signed_out, done.knew_all) == (0, True)
    assert (stored(grant).state, stored(grant).ended_at) == ("confirmed", None)


def test_a_teacher_who_left_since_stays_out_and_has_no_students(runa, bea, nor, settings):
    with scope(studio=runa.studio):
        team.hand_over_student(nor, to=bea, by=runa, moment=NOW)
    file = make(settings)
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW)

    done = put_back(file)

    assert (done.teachers.taken_out, done.teachers.owners_back) == (1, 0)
    places = Membership._base_manager
    assert places.get(public_id=bea.public_id).ended_at is not None
    assert places.get(public_id=runa.public_id).ended_at is None
    assert Student._base_manager.get(public_id=nor.public_id).teacher is None


def test_an_owner_who_left_since_stays_out_where_the_backup_knows_whose_studio_it_is_now(
    runa, bea, settings
):
    file = make(settings)
    with scope(studio=runa.studio):
        team.change_teacher(bea, role=Role.OWNER, ends_on=None, by=runa, moment=NOW)
        team.end_membership(runa, by=bea, moment=NOW)

    done = put_back(file)

    assert (done.teachers.taken_out, done.teachers.owners_back) == (1, 0)
    places = Membership._base_manager
    assert places.get(public_id=runa.public_id).ended_at is not None
    assert places.get(public_id=bea.public_id).role == Role.OWNER


def test_an_owner_who_left_since_is_back_where_the_backup_knows_nobody_who_owns_it_now(
    runa, bea, settings, capsys
):
    file = make(settings)
    ivo = makers.place_of(makers.a_teacher(runa.studio, name="Ivo", role=Role.OWNER))
    with scope(studio=runa.studio):
        team.end_membership(runa, by=ivo, moment=NOW)

    call_command("restore", str(file), replace=True)

    assert "Owners who have left since and are back: 1." in capsys.readouterr().out
    owner = Membership._base_manager.get(public_id=runa.public_id)
    assert (owner.role, owner.ended_at) == (Role.OWNER, None)
    assert Membership._base_manager.get(public_id=bea.public_id).role == Role.TEACHER


def test_who_handed_the_studio_over_since_owns_it_no_more(runa, bea, nor, settings, capsys):
    with scope(studio=runa.studio):
        team.hand_over_student(nor, to=runa, by=runa, moment=NOW)
    file = make(settings)
    with scope(studio=runa.studio):
        team.change_teacher(bea, role=Role.OWNER, ends_on=None, by=runa, moment=NOW)
        team.change_teacher(runa, role=Role.COVER, ends_on=NOW.date(), by=bea, moment=NOW)

    call_command("restore", str(file), replace=True)

    assert "part has changed since and stays so: 2" in capsys.readouterr().out
    places = Membership._base_manager
    before, now = places.get(public_id=runa.public_id), places.get(public_id=bea.public_id)
    assert (before.role, before.ends_on, before.ended_at) == (Role.COVER, NOW.date(), None)
    assert (now.role, now.ends_on) == (Role.OWNER, None)
    assert Student._base_manager.get(public_id=nor.public_id).teacher is None


def test_an_owner_of_that_day_stays_one_where_the_backup_knows_nobody_who_owns_it_now(
    runa, bea, settings
):
    file = make(settings)
    ivo = makers.place_of(makers.a_teacher(runa.studio, name="Ivo", role=Role.OWNER))
    with scope(studio=runa.studio):
        team.change_teacher(runa, role=Role.TEACHER, ends_on=None, by=ivo, moment=NOW)
        team.change_teacher(bea, role=Role.COVER, ends_on=NOW.date(), by=ivo, moment=NOW)

    done = put_back(file).teachers

    assert (done.taken_out, done.changed, done.owners_back) == (0, 1, 0)
    places = Membership._base_manager
    assert places.get(public_id=runa.public_id).role == Role.OWNER
    assert places.get(public_id=bea.public_id).role == Role.COVER


def test_owners_of_other_studios_stay_as_they_are(runa, bea, settings):
    ivo = makers.place_of(makers.a_teacher(name="Ivo", role=Role.OWNER))
    file = make(settings)
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW)

    assert put_back(file).teachers.taken_out == 1
    places = Membership._base_manager
    assert places.get(public_id=ivo.public_id).ended_at is None
    assert places.get(public_id=runa.public_id).ended_at is None


def test_an_owner_of_one_studio_owns_no_other_one(settings, runa):
    """Ivo is all that his studio has, whoever owns the other one."""
    ivo = makers.place_of(makers.a_teacher(name="Ivo", role=Role.OWNER))
    file = make(settings)
    eva = makers.place_of(makers.a_teacher(ivo.studio, name="Eva", role=Role.OWNER))
    with scope(studio=ivo.studio):
        team.end_membership(ivo, by=eva, moment=NOW)

    done = put_back(file).teachers

    assert (done.taken_out, done.changed, done.owners_back) == (0, 0, 1)
    assert Membership._base_manager.get(public_id=ivo.public_id).ended_at is None
    assert Membership._base_manager.get(public_id=runa.public_id).ended_at is None


def test_whoever_was_out_already_when_the_backup_was_made_is_not_counted(runa, bea, nor, settings):
    strangers, own = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant, makers.a_grant(nor)
    pairing.refuse_phone(strangers, moment=NOW - timedelta(days=1))
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW - timedelta(days=1))
    file = make(settings)

    done = put_back(file)

    assert (done.signed_out, done.teachers.taken_out) == (0, 0)
    day_before = NOW - timedelta(days=1)
    assert (stored(strangers).state, stored(strangers).ended_at) == ("refused", day_before)
    assert Membership._base_manager.get(public_id=bea.public_id).ended_at == day_before
    assert (stored(own.grant).state, stored(own.grant).ended_at) == ("confirmed", None)


def test_of_two_restores_in_a_row_the_second_knows_what_the_first_put_aside(runa, nor, settings):
    early = make(settings)
    bea = makers.place_of(makers.a_teacher(runa.studio, name="Bea"))
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    late = backups.make(settings.BACKUPS, moment=NOW + timedelta(hours=1), say=say)
    pairing.refuse_phone(strangers, moment=NOW)
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW)

    put_back(early)
    done = put_back(late, moment=NOW + timedelta(hours=2))

    assert (done.signed_out, done.teachers.taken_out) == (1, 1)
    assert stored(strangers).state == "refused"
    assert Membership._base_manager.get(public_id=bea.public_id).ended_at is not None


def test_a_teacher_who_came_back_between_two_restores_stays(runa, bea, settings):
    file = make(settings)
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW)
    put_back(file)
    invited = makers.an_invitation(runa.studio, made_at=NOW)
    team.join_studio(invited, user=bea.user, moment=NOW)

    put_back(file, moment=NOW + timedelta(hours=2))

    assert Membership._base_manager.get(public_id=bea.public_id).ended_at is None


def test_a_refusal_of_long_ago_cannot_be_taken_back_because_of_a_restore(nor, settings):
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    file = make(settings)
    pairing.refuse_phone(strangers, moment=NOW)

    put_back(file)

    assert stored(strangers).ended_at == NOW
    assert not pairing.take_back_refusal(stored(strangers), moment=timezone.now())


def test_a_database_that_cannot_be_read_in_full_says_that_more_may_have_ended(
    nor, settings, capsys
):
    file = make(settings)
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE studio_membership RENAME COLUMN ended_at TO left_at")

    call_command("restore", str(file), replace=True, verbosity=0)

    said = " ".join(capsys.readouterr().out.split())
    assert "The studio of before cannot be read in full, so nobody knows which phones" in said
    assert "What was here before is kept" in said


def test_what_is_read_of_a_damaged_file_ends_a_phone_all_the_same():
    known = ended_since.known_of(
        [("phone", "\x00", "no moment")],
        [("odd", "\x00", None, None), ("place", "cover", "no day", None)],
    )

    assert known.phones["phone"][0] == GrantState.ENDED
    assert known.phones["phone"][1].tzinfo is not None
    assert known.parts == {
        "place": ended_since.Part(role=Role.COVER, ends_on=None, is_out=False),
    }
