"""Django's own PostgreSQL, but for one thing: a connection with which something failed is let go.

The server keeps the plans of what a connection asks often. Where somebody changes the type of a
column meanwhile, it refuses each statement that reads the column, again and again, until the plans
are dropped ("cached plan must not change result type"); that it answers something else, as a look
at the connection asks, says nothing of them. A new connection has no plans.
"""

from django.db.backends.postgresql.base import DatabaseWrapper as PostgreSQLWrapper


class DatabaseWrapper(PostgreSQLWrapper):
    """A connection that serves the next request only if nothing failed in the one before."""

    def is_usable(self) -> bool:
        """Whether nothing went wrong with it, and the server still answers."""
        return not self.errors_occurred and bool(super().is_usable())
