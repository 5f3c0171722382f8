"""How teachers' accounts come to be: not by strangers signing up."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import LoginForm
from django.http import HttpRequest


class ClosedDoorAdapter(DefaultAccountAdapter):  # type: ignore[misc] # untyped library
    """Accounts are made by the first-run page, never by a public sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:  # noqa: ARG002 - allauth's shape
        """Say no to strangers."""
        return False


class SignInForm(LoginForm):  # type: ignore[misc] # untyped library
    """The sign-in, with the words of the other forms."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["login"].label = "E-mail"
        for name in ("login", "password"):
            self.fields[name].widget.attrs.pop("placeholder", None)
