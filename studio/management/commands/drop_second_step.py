"""``manage.py drop_second_step``: for a teacher who lost the authenticator and every code."""

from typing import Any

from allauth.mfa.models import Authenticator
from django.core.management.base import CommandError, CommandParser

from studio.commands import BAD_INPUT, OneLineCommand
from studio.models import User


class Command(OneLineCommand):
    """Takes the second step away; whoever may run commands here holds the whole database anyway."""

    help = "Take the second step of the sign-in away from a teacher who can no longer show it."

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the teacher's e-mail."""
        parser.add_argument("email", help="the e-mail that the teacher signs in with")

    def handle(self, *args: Any, **options: Any) -> None:  # noqa: ARG002 - Django's shape
        """Delete the secret and the recovery codes, or say that there is nobody."""
        email = options["email"].lower()
        user = User.objects.filter(email=email).first()
        if user is None:
            message = f"Nobody signs in with {email}."
            raise CommandError(message, returncode=BAD_INPUT)
        gone, _ = Authenticator.objects.filter(user=user).delete()
        words = "is away. The password alone opens the studio" if gone else "was not set up"
        self.stdout.write(f"The second step of {email} {words}.")
