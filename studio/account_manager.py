"""How teachers' accounts are made."""

from typing import TYPE_CHECKING, Any

from django.contrib.auth.base_user import BaseUserManager

if TYPE_CHECKING:
    from studio.models import User


class UserManager(BaseUserManager["User"]):
    """Makes teachers' accounts."""

    def create_user(self, email: str, password: str | None = None, **extra: Any) -> "User":
        """Make an account with a hashed password; without one nobody can sign in to it."""
        user = self.unsaved(email, password, **extra)
        user.save(using=self._db)
        return user

    def unsaved(self, email: str, password: str | None = None, **extra: Any) -> "User":
        """Make an account not yet written: hashing is slow, and no work for a transaction."""
        user = self.model(email=self.normalize_email(email).lower(), **extra)
        user.set_password(password)
        return user
