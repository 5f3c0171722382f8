"""What happens to teachers when an older studio is renewed."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

BEFORE = [("studio", "0002_cache_table")]
AFTER = [("studio", "0007_membership_public_id_once")]

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


def joined(apps, studio, email, role):
    user = apps.get_model("studio", "User").objects.create(email=email, name=email)
    apps.get_model("studio", "Membership").objects.create(studio=studio, user=user, role=role)


def test_the_first_teacher_of_each_studio_owns_it_and_all_have_names_of_their_own(before):
    studios = before.get_model("studio", "Studio").objects
    north, south = studios.create(name="North"), studios.create(name="South", public_id="0" * 16)
    joined(before, north, "cover@example.org", "cover")
    joined(before, north, "first@example.org", "teacher")
    joined(before, north, "second@example.org", "teacher")
    joined(before, south, "third@example.org", "teacher")

    rows = moved_to(AFTER).get_model("studio", "Membership").objects.order_by("pk")

    assert list(rows.values_list("role", flat=True)) == ["cover", "owner", "teacher", "owner"]
    assert len(set(rows.values_list("public_id", flat=True))) == 4
    assert all(rows.values_list("public_id", flat=True))


def test_going_back_knows_teachers_alone(before):
    north = before.get_model("studio", "Studio").objects.create(name="North")
    joined(before, north, "first@example.org", "teacher")
    moved_to(AFTER)

    rows = moved_to(BEFORE).get_model("studio", "Membership").objects

    assert rows.get().role == "teacher"
