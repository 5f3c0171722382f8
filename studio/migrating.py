"""A migration and the line that says it was applied are written together, or neither is.

Django writes that line after the migration's own transaction. A disk that fills up in between, or
a kill, would leave tables that no later try knows of.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.migration import Migration
from django.db.migrations.state import ProjectState


class WholeExecutor(MigrationExecutor):
    """Django's own, with one transaction round each migration and its line."""

    def apply_migration(
        self, state: ProjectState, migration: Migration, *how: Any, **named: Any
    ) -> ProjectState:
        """Run a migration forwards."""
        with _together(self.connection, migration):
            return super().apply_migration(state, migration, *how, **named)

    def unapply_migration(
        self, state: ProjectState, migration: Migration, *how: Any, **named: Any
    ) -> ProjectState:
        """Run a migration backwards."""
        with _together(self.connection, migration):
            return super().unapply_migration(state, migration, *how, **named)


@contextmanager
def _together(connection: BaseDatabaseWrapper, migration: Migration) -> Iterator[None]:
    if not migration.atomic:
        yield
        return
    # SQLite changes tables only while it does not look at keys, which no transaction can turn off.
    with connection.constraint_checks_disabled(), transaction.atomic(using=connection.alias):
        yield
