"""What `make test` tries on PostgreSQL as well: what the database itself can decide.

That is every test with transactions of its own (races, locks, migrations, copies, erasure), and
these files, whose rules lie in constraints, in queries or in what a column can hold. `make battery`
tries every test without a browser there.
"""

import pytest

FILES = frozenset(
    {
        "test_databases.py",  # how the connection is set
        "test_standing.py",  # what is said when it cannot
        "test_erase.py",  # rows and what hangs on them
        "test_pairing.py",  # a link works once
        "test_pairing_races.py",
        "test_sign_in_times.py",  # moments at their edges
        "test_echo.py",  # one key, one row
        "test_days_on_the_phone.py",  # dates at their edges
        "test_fix_day.py",  # a day is moved as a whole
        "test_services.py",  # constraints of blocks and check-ins
        "test_queries.py",  # sorting, counting, days
        "test_prepared.py",  # statements that are written once
        "test_kept_plans.py",
        "test_server_plans.py",  # what the server plans once
        "test_kept_months.py",  # rows that are compared as the database writes them
        "test_written_rows.py",
        "test_chart_queries.py",
        "test_people.py",
        "test_team.py",
        "test_crossings.py",  # keys and joins
        "test_fuzz.py",  # what a column refuses
        "test_letters.py",  # a letter is taken by one process
    }
)
DATABASES = frozenset({"db", "transactional_db"})


def is_decided_by_the_database(item: pytest.Item) -> bool:
    """Whether a test belongs to those that are tried on both."""
    mark = item.get_closest_marker("django_db")
    # A test may also ask by a fixture of its own that stands on one of these.
    asked = DATABASES.intersection(getattr(item, "fixturenames", ()))
    if "keeping" in item.path.parts or item.get_closest_marker("browser"):
        return False
    if mark is not None and mark.kwargs.get("transaction"):
        return True
    return item.path.name in FILES and bool(mark or asked)
