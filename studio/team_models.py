"""How somebody comes to teach in a studio, and the record of who teaches whom.

`studio.models` imports these, which is where the rest of the program finds them.
"""

from typing import ClassVar

from django.db import models
from django_scopes import ScopedManager

from studio.public import Public


class Invitation(Public):
    """A link by which one person becomes a teacher of a studio, once. Only its hash is kept."""

    studio = models.ForeignKey("studio.Studio", on_delete=models.CASCADE)
    role = models.CharField(max_length=20)
    ends_on = models.DateField(null=True, blank=True)
    email = models.EmailField(blank=True)
    token_hash = models.CharField(max_length=80, unique=True)
    made_by = models.ForeignKey("studio.User", null=True, on_delete=models.SET_NULL)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    objects: ClassVar[models.Manager["Invitation"]] = ScopedManager(studio="studio")

    def __str__(self) -> str:
        return f"{self.role} in {self.studio}"


class AuditLine(models.Model):
    """One change of who teaches whom, written once: the random ids of rows, and no names."""

    studio = models.ForeignKey("studio.Studio", on_delete=models.CASCADE)
    moment = models.DateTimeField()
    by = models.ForeignKey("studio.User", null=True, on_delete=models.SET_NULL)
    kind = models.CharField(max_length=20)
    about = models.CharField(max_length=16)
    to = models.CharField(max_length=20, blank=True)

    objects: ClassVar[models.Manager["AuditLine"]] = ScopedManager(studio="studio")

    def __str__(self) -> str:
        return f"{self.kind} {self.about}"
