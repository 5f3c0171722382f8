"""Addresses of the studio: the front door, settings, phones."""

from allauth.account.views import (
    LoginView,
    LogoutView,
    PasswordChangeView,
    ReauthenticateView,
)
from allauth.mfa.base.views import AuthenticateView
from allauth.mfa.base.views import ReauthenticateView as CodeAgainView
from allauth.mfa.recovery_codes.views import GenerateRecoveryCodesView, ViewRecoveryCodesView
from django.urls import path, register_converter

from studio.views import (
    erasing,
    front,
    joining,
    letters,
    pairing,
    parents,
    people,
    settings,
    team,
    this_phone,
)
from studio.views.second_factor import RemoveView, SetUpView

app_name = "studio"


class OfferKindConverter:
    """The kinds of offers that an address may name."""

    regex = "link|code|parent"

    def to_python(self, value: str) -> str:
        """Say it as the database does."""
        return {"link": "sent", "code": "lesson"}.get(value, value)

    def to_url(self, value: str) -> str:
        """Say it as people do."""
        return {"sent": "link", "lesson": "code"}.get(value, value)


class AnswerConverter:
    """What a teacher may say to a phone."""

    regex = "confirm|refuse|take-back|sign-out"

    def to_python(self, value: str) -> str:
        """Take the word as it is."""
        return value

    def to_url(self, value: str) -> str:
        """Take the word as it is."""
        return value


class WhoseConverter:
    """Whose students a teacher's lists show."""

    regex = "all|mine"

    def to_python(self, value: str) -> str:
        """Take the word as it is."""
        return value

    def to_url(self, value: str) -> str:
        """Take the word as it is."""
        return value


register_converter(OfferKindConverter, "offer_kind")
register_converter(AnswerConverter, "phone_answer")
register_converter(WhoseConverter, "whose")

urlpatterns = [
    path("", front.home, name="home"),
    path("healthz", front.healthz, name="healthz"),
    path("help", front.help_page, name="help"),
    path("help/numbers", front.help_numbers, name="help_numbers"),
    path("help/hearing", front.help_hearing, name="help_hearing"),
    path("open-a-studio", front.open_a_studio, name="open_a_studio"),
    path("first-run", front.first_run, name="first_run"),
    path("settings", people.settings, name="settings"),
    path("settings/assessment", settings.assessment, name="settings_assessment"),
    path("settings/letters", letters.letters, name="settings_letters"),
    path("letters/stop/<str:token>", letters.stop_letters, name="stop_letters"),
    path("settings/look", settings.look, name="settings_look"),
    path("settings/privacy/record", erasing.record, name="record"),
    path("students/<slug:student_id>/erase", erasing.erase_student, name="erase_student"),
    path("settings/privacy", settings.privacy, name="settings_privacy"),
    path("settings/phones", settings.phones, name="settings_phones"),
    path("settings/phones/sign-out", settings.sign_out_studio, name="sign_out_studio"),
    path("settings/sign-in", settings.sign_in, name="settings_sign_in"),
    path("settings/sign-in/end", settings.end_sign_in, name="end_sign_in"),
    path("settings/teachers", team.teachers, name="teachers"),
    path("settings/teachers/invite", team.invite, name="invite"),
    path("settings/teachers/leave", team.leave, name="leave"),
    path(
        "settings/invitations/<slug:invitation_id>/call-off",
        team.call_off_invitation,
        name="call_off_invitation",
    ),
    path("settings/teachers/<slug:member_id>", team.teacher, name="teacher"),
    path("settings/teachers/<slug:member_id>/remove", team.remove_teacher, name="remove_teacher"),
    path("students/<slug:student_id>/hand-over", team.hand_over, name="hand_over"),
    path("lists/<whose:whose>", team.whose_students, name="whose_students"),
    path("studios", joining.studios, name="studios"),
    path("studios/<slug:studio_id>/open", joining.open_studio, name="open_studio"),
    path("join", joining.join, name="join"),
    path("join/studio", joining.join_studio, name="join_studio"),
    path("pair", pairing.pair, name="pair"),
    path("practice/<slug:student_id>/this-phone", this_phone.this_phone, name="this_phone"),
    path("practice/<slug:student_id>/this-phone/code", this_phone.move, name="move_phone"),
    path("practice/<slug:student_id>/this-phone/sign-out", this_phone.sign_out, name="sign_out"),
    path("parent", parents.parent, name="parent"),
    path("parent/<slug:student_id>/phones", parents.parent_phones, name="parent_phones"),
    path("students/<slug:student_id>/parents-see", parents.parents_see, name="parents_see"),
    path("students/<slug:student_id>/phones/<offer_kind:kind>", pairing.offer, name="offer"),
    path("students/<slug:student_id>/phones/sign-out", pairing.sign_out_all, name="sign_out_all"),
    path("phones/<slug:grant_id>/<phone_answer:answer>", pairing.answer_phone, name="answer_phone"),
    path(
        "discomforts/<slug:discomfort_id>/close", people.close_discomfort, name="close_discomfort"
    ),
]

account_urlpatterns = [
    path("sign-in", LoginView.as_view(), name="account_login"),
    path("sign-out", LogoutView.as_view(), name="account_logout"),
    path("sign-in/code", AuthenticateView.as_view(), name="mfa_authenticate"),
    path("settings/password", PasswordChangeView.as_view(), name="account_change_password"),
    path("settings/again", ReauthenticateView.as_view(), name="account_reauthenticate"),
    path("settings/again/code", CodeAgainView.as_view(), name="mfa_reauthenticate"),
    path("settings/second-step", SetUpView.as_view(), name="mfa_activate_totp"),
    path("settings/second-step/remove", RemoveView.as_view(), name="mfa_deactivate_totp"),
    path(
        "settings/recovery-codes", ViewRecoveryCodesView.as_view(), name="mfa_view_recovery_codes"
    ),
    path(
        "settings/recovery-codes/new",
        GenerateRecoveryCodesView.as_view(),
        name="mfa_generate_recovery_codes",
    ),
]
