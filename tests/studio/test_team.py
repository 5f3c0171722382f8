"""Several teachers in a studio: inviting, joining, changing, leaving, handing a student over."""

from datetime import UTC, date, datetime, timedelta
from threading import Barrier, Thread

import pytest
from django.db import connection
from django.urls import reverse
from django_scopes import scope, scopes_disabled

from progress.models import CheckIn
from studio.models import AuditLine, Invitation, Membership, Student
from studio.services import team
from studio.words import AuditKind, Role
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture
def studio():
    return makers.a_studio()


@pytest.fixture
def owner(studio):
    return makers.place_of(makers.a_teacher(studio, name="Ada", role=Role.OWNER))


@pytest.fixture
def inside(studio):
    with scope(studio=studio):
        yield


def lines() -> list[tuple[str, str]]:
    with scopes_disabled():
        return list(AuditLine.objects.order_by("pk").values_list("kind", "to"))


def invited(owner, role=Role.TEACHER, ends_on=None, email="", moment=NOW):
    return team.invite_teacher(owner, role=role, ends_on=ends_on, email=email, moment=moment)


def test_an_invitation_makes_a_teacher_once(owner, inside):
    made = invited(owner)
    stranger, second = (makers.a_teacher(makers.a_studio()) for _ in range(2))
    found = team.find_invitation(made.token, moment=NOW)
    assert found is not None

    place = team.join_studio(found, user=stranger, moment=NOW)

    assert place is not None
    assert (place.studio, place.role) == (owner.studio, Role.TEACHER)
    assert team.find_invitation(made.token, moment=NOW) is None
    assert team.join_studio(found, user=second, moment=NOW) is None
    assert lines() == [(AuditKind.INVITED, "teacher"), (AuditKind.JOINED, "teacher")]


def test_the_secret_of_an_invitation_is_stored_as_a_hash(owner, inside):
    made = invited(owner)

    stored = Invitation.objects.get()

    assert stored.token_hash.startswith("sha256$")
    assert made.token not in str(vars(stored))


@pytest.mark.parametrize(("hours", "found"), [(71.99, True), (72, False)])
def test_an_invitation_works_for_72_hours(owner, inside, hours, found):
    made = invited(owner)

    later = NOW + timedelta(hours=hours)

    assert (team.find_invitation(made.token, moment=later) is not None) is found


def test_an_invitation_that_was_called_off_works_no_more(owner, inside):
    made = invited(owner)

    team.call_off_invitation(made.invitation, by=owner, moment=NOW)

    assert team.find_invitation(made.token, moment=NOW) is None
    assert lines()[-1] == (AuditKind.CALLED_OFF, "")


def test_an_invitation_that_was_used_is_not_called_off_any_more(owner, inside):
    made = invited(owner)
    found = team.find_invitation(made.token, moment=NOW)
    assert found is not None
    team.join_studio(found, user=makers.a_teacher(makers.a_studio()), moment=NOW)
    before = lines()

    team.call_off_invitation(found, by=owner, moment=NOW)

    assert lines() == before
    assert Invitation.objects.get().expires_at > NOW


def test_who_teaches_here_already_uses_no_invitation_up(owner, inside):
    made = invited(owner, Role.COVER, date(2026, 12, 1))

    with pytest.raises(team.AlreadyThereError):
        team.join_studio(made.invitation, user=owner.user, moment=NOW)

    assert team.find_invitation(made.token, moment=NOW) is not None
    assert Membership.objects.get(pk=owner.pk).role == Role.OWNER


def test_who_was_taken_out_comes_back_to_the_same_place(owner, studio, inside):
    place = makers.place_of(makers.a_teacher(studio))
    team.end_membership(place, by=owner, moment=NOW)

    back = team.join_studio(
        invited(owner, Role.COVER, date(2026, 12, 1)).invitation, user=place.user, moment=NOW
    )

    assert back is not None
    assert (back.pk, back.role, back.ended_at) == (place.pk, Role.COVER, None)
    assert back.ends_on == date(2026, 12, 1)


@pytest.mark.parametrize("role", [Role.TEACHER, Role.COVER])
def test_the_last_owner_can_be_made_nothing_else(owner, inside, role):
    with pytest.raises(team.LastOwnerError):
        team.change_teacher(owner, role=role, ends_on=date(2027, 1, 1), by=owner, moment=NOW)

    assert Membership.objects.get(pk=owner.pk).role == Role.OWNER
    assert lines() == []


def test_the_last_owner_cannot_leave_and_the_last_but_one_can(owner, studio, inside):
    with pytest.raises(team.LastOwnerError):
        team.end_membership(owner, by=owner, moment=NOW)
    makers.a_teacher(studio, role=Role.OWNER)

    team.end_membership(owner, by=owner, moment=NOW)

    assert Membership.objects.get(pk=owner.pk).ended_at == NOW


def test_an_owner_who_was_taken_out_is_no_owner_to_count_on(owner, studio, inside):
    other = makers.place_of(makers.a_teacher(studio, role=Role.OWNER))
    team.end_membership(other, by=owner, moment=NOW)

    with pytest.raises(team.LastOwnerError):
        team.end_membership(owner, by=owner, moment=NOW)


@pytest.mark.django_db(transaction=True)
def test_of_two_last_owners_who_leave_at_once_one_stays(studio):
    places = [makers.place_of(makers.a_teacher(studio, role=Role.OWNER)) for _ in range(2)]
    start, stayed = Barrier(2), []

    def leave(place):
        start.wait()
        try:
            with scope(studio=studio):
                team.end_membership(place, by=place, moment=NOW)
        except team.LastOwnerError:
            stayed.append(place.pk)
        finally:
            connection.close()

    threads = [Thread(target=leave, args=(place,)) for place in places]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with scopes_disabled():
        assert (
            list(Membership.objects.filter(ended_at__isnull=True).values_list("pk", flat=True))
            == stayed
        )
    assert len(stayed) == 1


def test_a_student_is_handed_over_with_the_whole_history(owner, studio, inside):
    to = makers.place_of(makers.a_teacher(studio, name="Bea"))
    student = makers.a_student(studio, teacher=owner.user)
    makers.a_check_in(student)

    team.hand_over_student(student, to=to, by=owner, moment=NOW)

    assert Student.objects.get(pk=student.pk).teacher == to.user
    assert CheckIn.objects.filter(student=student).count() == 1
    line = AuditLine.objects.get()
    assert (line.kind, line.about, line.to) == ("handed over", student.public_id, to.public_id)
    assert (line.by, line.moment) == (owner.user, NOW)


def test_handing_over_to_the_same_teacher_writes_nothing(owner, studio, inside):
    student = makers.a_student(studio, teacher=owner.user)

    team.hand_over_student(student, to=owner, by=owner, moment=NOW)

    assert lines() == []


def test_a_student_is_never_handed_to_another_studio(owner, studio, inside):
    student = makers.a_student(studio)
    elsewhere = makers.place_of(makers.a_teacher(makers.a_studio()))

    with pytest.raises(ValueError, match="within one studio"):
        team.hand_over_student(student, to=elsewhere, by=owner, moment=NOW)

    assert Student.objects.get(pk=student.pk).teacher is None


def test_the_students_of_a_teacher_who_goes_are_nobodys_and_stay(owner, studio, inside):
    place = makers.place_of(makers.a_teacher(studio))
    student = makers.a_student(studio, teacher=place.user)

    assert team.end_membership(place, by=owner, moment=NOW) == 1
    assert Student.objects.get(pk=student.pk).teacher is None


def test_who_only_covers_from_now_on_has_no_students_of_their_own(owner, studio, inside):
    bea, cora = (makers.place_of(makers.a_teacher(studio, name=name)) for name in ("Bea", "Cora"))
    theirs = [makers.a_student(studio, teacher=place.user) for place in (bea, cora)]

    team.change_teacher(bea, role=Role.COVER, ends_on=None, by=owner, moment=NOW)

    with scopes_disabled():
        found = [Student.objects.get(pk=student.pk).teacher for student in theirs]
    assert found == [None, cora.user]


def test_the_record_holds_no_name(owner, studio, inside):
    student = makers.a_student(studio, name="Nor Quillfeather")

    team.hand_over_student(student, to=owner, by=owner, moment=NOW)

    assert "Quillfeather" not in str(AuditLine.objects.values().get())


def test_a_teacher_who_is_taken_out_is_out_at_the_next_request(owner, studio):
    other = makers.a_teacher(studio, name="Bea")
    there, here = makers.signed_in(other), makers.signed_in(owner.user)
    assert there.get("/overview").status_code == 200

    here.post(reverse("studio:remove_teacher", args=[makers.place_of(other).public_id]))

    assert there.get("/overview").status_code == 404


def test_the_only_owner_is_told_why_nothing_changed(owner):
    browser = makers.signed_in(owner.user)

    page = browser.post(
        reverse("studio:teacher", args=[owner.public_id]), {"role": "teacher"}
    ).content.decode()
    left = browser.post(reverse("studio:leave"), follow=True).content.decode()

    assert "Nothing was changed: Ada is the only owner." in page
    assert "Nothing was changed: Ada is the only owner." in left


def test_who_leaves_one_of_two_studios_goes_on_in_the_other(studio, owner):
    bea = makers.a_teacher(studio, name="Bea")
    south = makers.a_studio(name="South")
    with scopes_disabled():
        Membership.objects.create(studio=south, user=bea, role=Role.TEACHER)
    browser = makers.signed_in(bea)

    page = browser.post(reverse("studio:leave"), follow=True)

    assert page.redirect_chain == [("/overview", 302)]
    assert f"You have left {studio.name}." in page.content.decode()
    assert page.context["membership"].studio == south
    assert browser.get("/overview").status_code == 200


def test_who_leaves_the_only_studio_is_signed_out(owner, studio):
    browser = makers.signed_in(makers.a_teacher(studio, role=Role.COVER))

    page = browser.post(reverse("studio:leave"), follow=True)

    assert page.redirect_chain == [("/sign-in", 302)]
    assert f"You have left {studio.name}." in page.content.decode()
    assert browser.get("/overview").status_code == 302


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"role": "cover"}, "A cover teacher needs a last day: choose one."),
        ({"role": "cover", "ends_on": "2020-01-01"}, "01 January 2020 is over: choose today"),
        ({"role": "teacher", "ends_on": "2099-01-01"}, "Only a cover teacher has a last day"),
        ({"role": "headmaster"}, "headmaster"),
    ],
)
def test_what_does_not_fit_together_is_refused_in_words(owner, typed, words):
    page = makers.signed_in(owner.user).post(reverse("studio:invite"), typed)

    assert words in page.content.decode()
    with scopes_disabled():
        assert not Invitation.objects.exists()


@pytest.mark.parametrize(
    ("students", "words"),
    [
        (0, "Bea is out and sees nothing of this studio any more."),
        (1, "1 of the students has no teacher now."),
        (2, "2 of the students have no teacher now."),
    ],
)
def test_the_page_says_how_many_students_of_a_teacher_who_goes_are_nobodys(
    owner, studio, students, words
):
    bea = makers.a_teacher(studio, name="Bea")
    for _ in range(students):
        makers.a_student(studio, teacher=bea)
    address = reverse("studio:remove_teacher", args=[makers.place_of(bea).public_id])

    page = makers.signed_in(owner.user).post(address, follow=True).content.decode()

    assert words in page
    assert ("no teacher now" in page) is (students > 0)


def test_an_owner_who_takes_themselves_out_leaves_and_is_signed_out(owner, studio):
    makers.a_teacher(studio, name="Bea", role=Role.OWNER)
    browser = makers.signed_in(owner.user)

    page = browser.post(reverse("studio:remove_teacher", args=[owner.public_id]), follow=True)

    assert "You have left" in page.content.decode()
    assert browser.get("/overview").status_code == 302
    with scopes_disabled():
        assert Membership.objects.get(pk=owner.pk).ended_at is not None


def test_the_page_hands_a_student_over_to_nobody_in_particular(owner, studio):
    nor = makers.a_student(studio, teacher=owner.user)

    page = makers.signed_in(owner.user).post(
        reverse("studio:hand_over", args=[nor.public_id]), {"to": ""}, follow=True
    )

    assert "Nor is with nobody in particular now." in page.content.decode()
    nor.refresh_from_db()
    assert nor.teacher is None


def test_a_link_is_shown_once_and_stands_nowhere_else(owner):
    browser = makers.signed_in(owner.user)

    page = browser.post(reverse("studio:invite"), {"role": "teacher"}).content.decode()

    token = page.split("/join#")[1].split("<")[0]
    assert len(token) == 43
    assert token not in browser.get(reverse("studio:teachers")).content.decode()


def test_a_foreign_owner_finds_nobody_of_this_studio(owner):
    foreign = makers.signed_in(makers.a_teacher(role=Role.OWNER))

    for name in ("studio:teacher", "studio:remove_teacher"):
        answer = foreign.post(reverse(name, args=[owner.public_id]), {"role": "teacher"})
        assert answer.status_code == 404
    assert makers.place_of(owner.user).role == Role.OWNER


def test_lists_show_ones_own_students_when_asked_and_pages_open_all(owner, studio):
    makers.a_teacher(studio, name="Bea")
    makers.a_student(studio, name="Nor", teacher=owner.user)
    sam = makers.a_student(studio, name="Sam")
    browser = makers.signed_in(owner.user)

    page = browser.post(reverse("studio:whose_students", args=["mine"]), follow=True)

    assert "Sam" not in page.content.decode()
    assert "Lists show your own students only." in page.content.decode()
    assert browser.get(f"/students/{sam.public_id}").status_code == 200
    back = browser.post(reverse("studio:whose_students", args=["all"]), follow=True)
    assert "Sam" in back.content.decode()


def test_who_adds_a_student_is_the_teacher(owner, studio):
    browser = makers.signed_in(owner.user)

    browser.post(
        "/students/new",
        {"name": "Nor", "instrument": "horn_f", "grade": "open", "child": "no"},
    )

    with scope(studio=studio):
        assert Student.objects.get().teacher == owner.user


def test_the_students_page_leads_to_handing_over_where_there_is_somebody_to_hand_to(owner, studio):
    student = makers.a_student(studio)
    browser = makers.signed_in(owner.user)
    page = reverse("progress:student", args=[student.public_id])
    way = reverse("studio:hand_over", args=[student.public_id])
    assert way not in browser.get(page).content.decode()

    makers.a_teacher(studio, name="Bea")

    assert way in browser.get(page).content.decode()


def test_the_page_of_teachers_says_what_happened_in_names(owner, studio):
    makers.a_teacher(studio, name="Bea")
    student = makers.a_student(studio, name="Nor")
    browser = makers.signed_in(owner.user)
    browser.post(reverse("studio:hand_over", args=[student.public_id]), {"to": owner.public_id})

    page = browser.get(reverse("studio:teachers")).content.decode()

    assert "handed <bdi>Nor</bdi> over to <bdi>Ada</bdi>" in page


def test_the_page_of_teachers_asks_as_many_queries_for_many(
    owner, studio, django_assert_num_queries
):
    makers.a_teacher(studio, name="Bea")
    makers.a_student(studio)
    browser = makers.signed_in(owner.user)
    browser.get(reverse("studio:teachers"))
    with django_assert_num_queries(7):
        browser.get(reverse("studio:teachers"))
    for _ in range(3):
        makers.a_student(studio, teacher=makers.a_teacher(studio))

    with django_assert_num_queries(7):
        browser.get(reverse("studio:teachers"))
