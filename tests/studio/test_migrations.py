"""What happens to a studio's rows when the program is renewed."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

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
