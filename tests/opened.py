"""Every page of a studio that a teacher, a student and a parent can open, and the way in."""

from http.cookies import SimpleCookie

from allauth.account.internal.flows.reauthentication import reauthenticate_by_password
from django.http import HttpRequest
from django.test import Client
from django_scopes import scopes_disabled

from progress.models import CheckIn
from routines.models import Block
from studio.models import Grant, Student, User
from studio.words import GrantKind, OfferKind
from tests import makers
from tests.progress import recording_makers
from tests.roles import OWNER, addresses, pages_of
from tests.weights import Opened

# Shown to an owner who has just typed the password once more; docs/roles.md has what comes before.
AFTER_THE_PASSWORD = {"studio:erase_student", "progress:studio_copy", "mfa_activate_totp"}
ROLES = (OWNER, "student", "parent")


def opened(student: Student, owner: User) -> dict[str, Opened]:
    """Give a student of a filled studio one of everything, and list the pages of each role.

    The student has a block and days filed before today; today's check-in is still to come.
    """
    phone = makers.a_grant(student)
    objects = _one_of_everything(student, owner, phone.grant)
    names = {role: [page.name for page in pages_of(role)] for role in ROLES}
    # First, as the password counts for a few minutes.
    names[OWNER] = [*sorted(AFTER_THE_PASSWORD), *names[OWNER]]
    paths = {address.name: address for address in addresses()}
    cookies = {
        OWNER: _with_the_password(owner).cookies,
        "student": makers.a_phone(phone).cookies,
        "parent": makers.a_phone(makers.a_grant(student, kind=GrantKind.PARENT)).cookies,
    }
    return {
        role: Opened(
            pages={name: paths[name].path(objects) for name in names[role]},
            cookies=_plain(cookies[role]),
        )
        for role in ROLES
    }


def _one_of_everything(student: Student, owner: User, phone: Grant) -> dict[str, str]:
    with scopes_disabled():
        block: Block = Block.objects.filter(student=student).latest("first_day")
        filed = CheckIn.objects.filter(student=student)
        filed.filter(day=makers.today(student.studio)).delete()
        check_in = filed.latest("day")
        # A phone reads back what it has filed itself.
        filed.filter(pk=check_in.pk).update(grant=phone)
    recording_makers.leave(student)
    colleague = makers.a_teacher(student.studio, name="Bea", email="bea@example.org")
    return {
        "student_id": student.public_id,
        "check_in_id": check_in.public_id,
        "batch": block.batch,
        "block_id": block.public_id,
        "template_id": makers.a_template(student.studio, by=owner).public_id,
        "recording_id": recording_makers.a_recording(student, block=block).public_id,
        "member_id": makers.place_of(colleague).public_id,
        "kind": OfferKind.SENT,
    }


def _with_the_password(owner: User) -> Client:
    """Sign an owner in who has typed the password a moment ago."""
    browser = makers.signed_in(owner)
    request = HttpRequest()
    request.session, request.user = browser.session, owner
    reauthenticate_by_password(request)
    request.session.save()
    return browser


def _plain(cookies: SimpleCookie) -> dict[str, str]:
    return {name: morsel.value for name, morsel in cookies.items()}
