from django.db import migrations

from studio.models import new_public_id


def name_and_own(apps, schema_editor):
    """Give every membership its random name, and each studio's first teacher the owner's part."""
    memberships = apps.get_model("studio", "Membership").objects.order_by("pk")
    owned = set(memberships.filter(role="owner").values_list("studio_id", flat=True))
    for row in memberships:
        row.public_id = new_public_id()
        if row.role == "teacher" and row.studio_id not in owned:
            row.role = "owner"
            owned.add(row.studio_id)
        row.save(update_fields=["public_id", "role"])


def teachers_again(apps, schema_editor):
    """Go back to the one part there was for whoever may change things."""
    apps.get_model("studio", "Membership").objects.filter(role="owner").update(role="teacher")


class Migration(migrations.Migration):
    dependencies = [("studio", "0005_teachers_and_settings")]

    operations = [migrations.RunPython(name_and_own, teachers_again)]
