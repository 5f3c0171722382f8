"""A letter that waits to be sent: it lies in the database until a mail server has taken it.

`studio.models` imports this, which is where the rest of the program finds it.
"""

from typing import ClassVar

from django.db import models
from django_scopes import ScopedManager


class Letter(models.Model):
    """One letter to one address. `key` names its cause, so that a cause makes one letter."""

    studio = models.ForeignKey("studio.Studio", on_delete=models.CASCADE)
    student = models.ForeignKey("studio.Student", null=True, on_delete=models.CASCADE)
    key = models.CharField(max_length=80, unique=True)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    body = models.TextField()
    stop = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()
    next_try_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True)

    objects: ClassVar[models.Manager["Letter"]] = ScopedManager(studio="studio")

    class Meta:
        indexes = (models.Index(fields=("sent_at", "next_try_at"), name="letter_that_waits"),)

    def __str__(self) -> str:
        return self.key
