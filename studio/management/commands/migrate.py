"""`manage.py migrate`: Django's own, with every migration whole or not at all."""

from django.core.management.commands import migrate

from studio.migrating import WholeExecutor

# The command asks for Django's own by this name.
migrate.MigrationExecutor = WholeExecutor  # type: ignore[attr-defined] # not in the stubs


class Command(migrate.Command):
    """Changes nothing else of it."""
