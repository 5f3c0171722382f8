"""How teachers' accounts come to be: not by strangers signing up."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class ClosedDoorAdapter(DefaultAccountAdapter):  # type: ignore[misc] # untyped library
    """Accounts are made by the first-run page, never by a public sign-up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:  # noqa: ARG002 - allauth's shape
        """Say no to strangers."""
        return False
