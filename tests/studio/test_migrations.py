"""What happens to a studio's rows when the program is renewed."""

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from itertools import count

import pytest
from django.core.management import call_command
from django.db import OperationalError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder

BEFORE = [("studio", "0002_cache_table")]
AFTER = [("studio", "0003_do_re_mi_in_three_spellings")]

pytestmark = pytest.mark.django_db(transaction=True)


def moved_to(target):
    """Bring the tables to a migration, and give the models as they were then."""
    executor = MigrationExecutor(connection)
    executor.migrate(target)
    return executor.loader.project_state(target).apps


@pytest.fixture
def before():
    yield moved_to(BEFORE)
    executor = MigrationExecutor(connection)
    executor.migrate(executor.loader.graph.leaf_nodes())


def test_plain_do_re_mi_becomes_the_italian_one_and_the_rest_stays(before):
    studio = before.get_model("studio", "Studio").objects.create(
        name="North", note_naming="solfege"
    )
    students = before.get_model("studio", "Student").objects
    for naming in ("solfege", "german", ""):
        students.create(studio=studio, name="Nor", instrument="horn_f", note_naming=naming)

    after = moved_to(AFTER)

    kept = after.get_model("studio", "Student").objects.order_by("pk")
    assert after.get_model("studio", "Studio").objects.get().note_naming == "italian"
    assert list(kept.values_list("note_naming", flat=True)) == ["italian", "german", ""]


def test_going_back_knows_one_do_re_mi_and_no_dutch(before):
    after = moved_to(AFTER)
    studio = after.get_model("studio", "Studio").objects.create(name="North", note_naming="dutch")
    after.get_model("studio", "Student").objects.create(
        studio=studio, name="Nor", instrument="horn_f", note_naming="french"
    )

    back = moved_to(BEFORE)

    assert back.get_model("studio", "Studio").objects.get().note_naming == "letters"
    assert back.get_model("studio", "Student").objects.get().note_naming == "solfege"


NEWER = ("progress", "0006_recordings")
CHANGES = ("CREATE", "ALTER", "DROP", "INSERT", "UPDATE", "DELETE")


def stopped_at(number, *to):
    """Migrate on a connection of its own, which ends at the change of this number, from 1.

    That is what a kill or a full disk does to the command.
    """
    changes = count(1)

    def watch(execute, sql, *given):
        if str(sql).lstrip().startswith(CHANGES) and next(changes) == number:
            raise OperationalError("database or disk is full")
        return execute(sql, *given)

    def migrate():
        with connection.execute_wrapper(watch):
            try:
                call_command("migrate", *to, interactive=False, verbosity=0)
            finally:
                connection.close()

    with ThreadPoolExecutor(1) as command, suppress(OperationalError):
        command.submit(migrate).result()


def of_recordings():
    """The names of the newer tables and of all that belongs to them, and whether it is noted."""
    with connection.cursor() as cursor:
        there = {
            name: sorted(connection.introspection.get_constraints(cursor, name))
            for name in connection.introspection.table_names(cursor)
            if name.startswith("progress_recording")
        }
    return there, NEWER in MigrationRecorder(connection).applied_migrations()


@pytest.mark.battery
@pytest.mark.parametrize("to", ["forwards", "backwards"])
def test_a_migration_that_is_stopped_at_any_change_is_there_whole_or_not_at_all(to, figures):
    whole, cases = of_recordings(), 0
    ways = [["progress", "0005_kept_months"], ["progress"]]
    back, target = ways if to == "forwards" else reversed(ways)
    call_command("migrate", *back, interactive=False, verbosity=0)
    before = of_recordings()
    try:
        while of_recordings() == before:
            cases += 1
            stopped_at(cases, *target)
            assert of_recordings() in (before, ({}, False) if to == "backwards" else whole)
            assert cases < 100
    finally:
        call_command("migrate", interactive=False, verbosity=0)

    assert cases > 2
    assert of_recordings() == whole
    figures.append(
        f"a migration {to} on {connection.vendor}, stopped at each of {cases} changes: 0 half done"
    )
