from django.db import migrations

OLD, NEW = "solfege", ("italian", "french", "spanish")


def say_which(apps, schema_editor):
    """Call what was plain do re mi the Italian one: its names on the screen stay what they were."""
    for name in ("Studio", "Student"):
        rows = apps.get_model("studio", name).objects
        rows.filter(note_naming=OLD).update(note_naming="italian")


def say_plainly(apps, schema_editor):
    """Go back to the one do re mi; Dutch did not exist then and becomes letters."""
    for name in ("Studio", "Student"):
        rows = apps.get_model("studio", name).objects
        rows.filter(note_naming__in=NEW).update(note_naming=OLD)
        rows.filter(note_naming="dutch").update(note_naming="letters")


class Migration(migrations.Migration):

    dependencies = [("studio", "0002_cache_table")]

    operations = [migrations.RunPython(say_which, say_plainly)]
