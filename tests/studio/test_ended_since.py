"""What has been ended since a backup stays ended when the backup is put back."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.core.management import call_command
from django_scopes import scope, scopes_disabled

from progress.queries.news import standing_check_ins
from studio.models import Grant, Membership, Student
from studio.services import backups, pairing, team
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


def put_back(file: Path) -> backups.CaughtUp:
    return backups.restore(file, replace=True, moment=NOW, say=say).caught_up


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

    done = put_back(make(settings))

    assert done.signed_out == 0
    assert (stored(grant).state, stored(grant).ended_at) == ("confirmed", None)


def test_a_teacher_who_left_since_stays_out_and_has_no_students(runa, bea, nor, settings):
    with scope(studio=runa.studio):
        team.hand_over_student(nor, to=bea, by=runa, moment=NOW)
    file = make(settings)
    with scope(studio=runa.studio):
        team.end_membership(bea, by=runa, moment=NOW)

    done = put_back(file)

    assert (done.taken_out, done.owners_back) == (1, 0)
    places = Membership._base_manager
    assert places.get(public_id=bea.public_id).ended_at is not None
    assert places.get(public_id=runa.public_id).ended_at is None
    assert Student._base_manager.get(public_id=nor.public_id).teacher is None


def test_an_owner_who_left_since_is_back_where_the_backup_knows_no_other(
    runa, bea, settings, capsys
):
    file = make(settings)
    with scope(studio=runa.studio):
        team.change_teacher(bea, role=Role.OWNER, ends_on=None, by=runa, moment=NOW)
        team.end_membership(runa, by=bea, moment=NOW)

    call_command("restore", str(file), replace=True)

    assert "Owners who have left since and are back, as there was no other: 1." in (
        capsys.readouterr().out
    )
    owner = Membership._base_manager.get(public_id=runa.public_id)
    assert (owner.role, owner.ended_at) == (Role.OWNER, None)
