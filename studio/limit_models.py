"""How often something was tried lately, in the database, so that every server process knows it.

`studio.models` imports this, which is where the rest of the program finds it.
"""

from django.db import models


class Tries(models.Model):
    """How much of one limit somebody has used up; `who` is a hash and names nobody."""

    limit = models.CharField(max_length=40)
    who = models.CharField(max_length=64)
    used = models.FloatField()
    at = models.DateTimeField()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("limit", "who"), name="tries_once"),)
        indexes = (models.Index(fields=("at",), name="tries_at"),)

    def __str__(self) -> str:
        return f"{self.used:.1f} of {self.limit}"
