"""``manage.py first_run``: print the token that opens the first-run page of an empty studio."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.urls import reverse

from studio.services.people import new_setup_token


class Command(BaseCommand):
    """Makes a new first-run token, which ends the one before."""

    help = "Print the token that opens the first-run page, as long as nobody can sign in."

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002 - Django's shape
        """Print the token, or say that it is not needed any more."""
        token = new_setup_token()
        if token is None:
            sign_in = f"{settings.ADDRESS}{reverse('account_login')}"
            self.stdout.write(f"Somebody can sign in already: {sign_in}")
            return
        page = f"{settings.ADDRESS}{reverse('studio:first_run')}"
        self.stdout.write(f"Nobody can sign in yet. Open {page} and paste this first-run token:")
        self.stdout.write(token)
