"""Rows that have a random name in addresses, where their number would tell too much."""

import secrets

from django.db import models


def new_public_id() -> str:
    """Make the random name of a row in addresses: 16 hexadecimal digits, 64 bits."""
    return secrets.token_hex(8)


class Public(models.Model):
    """A row whose address carries a random name instead of its number."""

    public_id = models.CharField(max_length=16, unique=True, default=new_public_id, editable=False)

    class Meta:
        abstract = True
