"""Joining a studio by an invitation, and going from one's one studio to the other."""

from datetime import timedelta

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Invitation, Membership, User
from studio.services import team
from studio.words import Role
from tests import makers

TOKEN = "an-invitation-for-tests"
NEW = {"name": "Bea", "email": "bea@example.org", "password": makers.PASSWORD}

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio():
    return makers.a_studio(name="North Street Brass")


@pytest.fixture
def owner(studio):
    return makers.a_teacher(studio, name="Ada", role=Role.OWNER)


@pytest.fixture
def invitation(studio, owner):
    return makers.an_invitation(studio, by=owner, token=TOKEN)


def is_used(invitation: Invitation) -> bool:
    with scopes_disabled():
        return Invitation.objects.get(pk=invitation.pk).used_at is not None


def test_a_new_teacher_makes_an_account_and_is_in(client, invitation):
    found = client.post(reverse("studio:join"), {"token": TOKEN}, follow=True)
    assert "Teach in <bdi>North Street Brass</bdi>?" in found.content.decode()
    assert not is_used(invitation)

    page = client.post(reverse("studio:join_studio"), NEW, follow=True)

    assert page.redirect_chain == [("/overview", 302)]
    place = makers.place_of(User.objects.get(email="bea@example.org"))
    assert (place.studio, place.role) == (invitation.studio, Role.TEACHER)
    assert is_used(invitation)


def test_the_whole_pasted_link_is_taken_as_well(client, invitation):
    answer = client.post(reverse("studio:join"), {"token": f" http://127.0.0.1/join#{TOKEN} "})

    assert answer.headers["Location"] == reverse("studio:join_studio")


@pytest.mark.parametrize("how", ["unknown", "used", "old"])
def test_unknown_used_and_old_invitations_answer_alike(client, studio, owner, how):
    moment = timezone.now()
    if how == "used":
        makers.an_invitation(studio, token=TOKEN, used_at=moment)
    elif how == "old":
        makers.an_invitation(studio, token=TOKEN, made_at=moment - timedelta(hours=72, seconds=1))

    answer = client.post(reverse("studio:join"), {"token": TOKEN})

    assert answer.status_code == 410
    assert "This invitation does not work." in answer.content.decode()
    assert "North Street" not in answer.content.decode()


def test_looking_at_the_pages_uses_nothing_up_and_says_no_name(client, invitation):
    page = client.get(reverse("studio:join"))

    assert "North Street" not in page.content.decode()
    assert client.get(reverse("studio:join_studio")).status_code == 302
    assert not is_used(invitation)


def test_who_signs_in_already_joins_with_that_account(invitation):
    bea = makers.a_teacher(makers.a_studio(name="South"), name="Bea", role=Role.OWNER)
    browser = makers.signed_in(bea)
    browser.post(reverse("studio:join"), {"token": TOKEN})

    page = browser.post(reverse("studio:join_studio"), follow=True)

    assert "You teach in North Street Brass now." in page.content.decode()
    with scopes_disabled():
        roles = dict(Membership.objects.filter(user=bea).values_list("studio__name", "role"))
    assert roles == {"South": Role.OWNER, "North Street Brass": Role.TEACHER}


def test_who_signs_in_already_only_looks_until_the_button_is_pressed(invitation):
    bea = makers.a_teacher(makers.a_studio(name="South"), name="Bea")
    browser = makers.signed_in(bea)
    browser.post(reverse("studio:join"), {"token": TOKEN})

    page = browser.get(reverse("studio:join_studio"))

    assert page.status_code == 200
    assert "North Street Brass" in page.content.decode()
    assert not is_used(invitation)
    with scopes_disabled():
        assert Membership.objects.filter(user=bea).count() == 1


@pytest.mark.parametrize("has_account", [True, False])
def test_an_invitation_that_somebody_uses_first_opens_nothing(
    client, invitation, monkeypatch, has_account
):
    browser = makers.signed_in(makers.a_teacher(name="Bea")) if has_account else client
    browser.post(reverse("studio:join"), {"token": TOKEN})
    found = team.open_invitation

    def then_used(public_id, *, moment):
        """Somebody else uses it up between the look and the press."""
        open_still = found(public_id, moment=moment)
        with scopes_disabled():
            Invitation.objects.filter(pk=invitation.pk).update(used_at=moment)
        return open_still

    monkeypatch.setattr(team, "open_invitation", then_used)

    answer = browser.post(reverse("studio:join_studio"), NEW)

    assert answer.headers["Location"] == reverse("studio:join")
    assert not User.objects.filter(email=NEW["email"]).exists()
    with scopes_disabled():
        assert Membership.objects.filter(studio=invitation.studio).count() == 1


def test_an_invitation_for_one_e_mail_is_for_nobody_else(client, studio, owner):
    invitation = makers.an_invitation(studio, token=TOKEN, email="cora@example.org")
    client.post(reverse("studio:join"), {"token": TOKEN})

    page = client.post(reverse("studio:join_studio"), NEW).content.decode()

    assert "This invitation is for cora@example.org." in page
    assert not User.objects.filter(email="bea@example.org").exists()
    assert not is_used(invitation)


def test_somebody_elses_account_is_not_taken_over(client, invitation):
    old = makers.a_teacher(email="bea@example.org", name="Bea")
    client.post(reverse("studio:join"), {"token": TOKEN})

    page = client.post(reverse("studio:join_studio"), NEW | {"password": "another long one"})

    assert "If this is your e-mail, sign in first" in page.content.decode()
    old.refresh_from_db()
    assert old.check_password(makers.PASSWORD)
    assert not is_used(invitation)


def test_a_short_password_is_refused_and_the_rest_is_kept(client, invitation):
    client.post(reverse("studio:join"), {"token": TOKEN})

    page = client.post(reverse("studio:join_studio"), NEW | {"password": "short"}).content.decode()

    assert "at least 12 characters" in page
    assert 'value="bea@example.org"' in page
    assert not User.objects.filter(email="bea@example.org").exists()


def test_without_a_password_no_account_is_made_and_the_rest_is_kept(client, invitation):
    client.post(reverse("studio:join"), {"token": TOKEN})

    page = client.post(reverse("studio:join_studio"), NEW | {"password": ""})

    assert page.status_code == 200
    assert set(page.context["form"].errors) == {"password"}
    assert 'value="bea@example.org"' in page.content.decode()
    assert not is_used(invitation)


def test_who_teaches_there_already_is_told_so(invitation, owner):
    browser = makers.signed_in(owner)
    browser.post(reverse("studio:join"), {"token": TOKEN})

    page = browser.post(reverse("studio:join_studio")).content.decode()

    assert "You teach in this studio already" in page
    assert not is_used(invitation)


@pytest.fixture
def in_two(studio, owner):
    """Ada's browser, who owns one studio and covers in another; and a student in each."""
    south = makers.a_studio(name="South Street Brass")
    with scopes_disabled():
        Membership.objects.create(
            studio=south, user=owner, role=Role.COVER, ends_on=makers.today(south)
        )
    return makers.signed_in(owner), south, makers.a_student(studio), makers.a_student(south)


def test_one_studio_is_open_at_a_time_and_the_other_is_not_found(in_two):
    browser, south, nor_north, nor_south = in_two
    assert browser.get(f"/students/{nor_north.public_id}").status_code == 200
    assert browser.get(f"/students/{nor_south.public_id}").status_code == 404

    page = browser.post(reverse("studio:open_studio", args=[south.public_id]), follow=True)

    assert "You are in South Street Brass now." in page.content.decode()
    assert browser.get(f"/students/{nor_north.public_id}").status_code == 404
    assert browser.get(f"/students/{nor_south.public_id}").status_code == 200


def test_the_role_is_that_of_the_studio_that_is_open(in_two):
    browser, south, _, _ = in_two
    assert browser.post("/students/new", {}).status_code == 200

    browser.post(reverse("studio:open_studio", args=[south.public_id]))

    assert browser.post("/students/new", {}).status_code == 403


def test_a_foreign_studio_is_not_found(in_two):
    browser, *_ = in_two
    foreign = makers.a_studio(name="East")

    answer = browser.post(reverse("studio:open_studio", args=[foreign.public_id]))

    assert answer.status_code == 404
    assert "North Street Brass" in browser.get("/overview").content.decode()


def test_where_the_open_studio_is_closed_to_them_the_other_one_opens(in_two):
    browser, south, nor_north, _ = in_two
    browser.post(reverse("studio:open_studio", args=[south.public_id]))
    with scopes_disabled():
        Membership.objects.filter(studio=south).update(ended_at=timezone.now())

    assert browser.get(f"/students/{nor_north.public_id}").status_code == 200


def test_a_teacher_of_one_studio_sees_no_other_in_the_header(owner):
    page = makers.signed_in(owner).get("/overview").content.decode()

    assert reverse("studio:studios") not in page


def test_an_invitation_with_an_e_mail_is_sent_as_a_letter(owner):
    page = makers.signed_in(owner).post(
        reverse("studio:invite"),
        {"role": "cover", "ends_on": "2099-01-31", "email": "cora@example.org"},
    )

    letter = mail.outbox[0]
    link = page.content.decode().split('id="link">')[1].split("<")[0]
    assert (letter.to, letter.subject) == (
        ["cora@example.org"], "An invitation to teach in North Street Brass",
    )  # fmt: skip
    assert link in letter.body
    assert "as: cover teacher" in letter.body


def test_a_studios_name_in_two_lines_breaks_no_letter(studio, owner):
    studio.name = "North\r\nBcc: all@example.org"
    studio.save(update_fields=["name"])

    makers.signed_in(owner).post(
        reverse("studio:invite"), {"role": "teacher", "email": "cora@example.org"}
    )

    assert mail.outbox[0].subject == "An invitation to teach in North Bcc: all@example.org"
    assert mail.outbox[0].recipients() == ["cora@example.org"]


def test_a_mail_server_that_fails_leaves_the_link_to_hand_on(owner, monkeypatch):
    def fails(*_letter):
        raise OSError

    monkeypatch.setattr("studio.mail.send_mail", fails)
    page = makers.signed_in(owner).post(
        reverse("studio:invite"), {"role": "teacher", "email": "cora@example.org"}
    )

    assert "the letter could not be sent" in page.content.decode()
    assert "/join#" in page.content.decode()


def test_without_an_e_mail_no_letter_is_written(owner):
    makers.signed_in(owner).post(reverse("studio:invite"), {"role": "teacher"})

    assert mail.outbox == []
