"""Addresses of the studio: the front door, settings, phones."""

from allauth.account.views import LoginView, LogoutView, PasswordChangeView
from django.urls import path, register_converter

from studio.views import front, pairing, parents, people

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


register_converter(OfferKindConverter, "offer_kind")
register_converter(AnswerConverter, "phone_answer")

urlpatterns = [
    path("", front.home, name="home"),
    path("healthz", front.healthz, name="healthz"),
    path("help", front.help_page, name="help"),
    path("first-run", front.first_run, name="first_run"),
    path("settings", people.settings, name="settings"),
    path("pair", pairing.pair, name="pair"),
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
    path("settings/password", PasswordChangeView.as_view(), name="account_change_password"),
]
