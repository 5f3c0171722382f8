"""Make the table that sign-in limits are counted in, so that no separate command is needed."""

from django.core.management import call_command
from django.db import migrations


def make_table(apps, schema_editor):
    call_command("createcachetable", database=schema_editor.connection.alias, verbosity=0)


class Migration(migrations.Migration):
    dependencies = [("studio", "0001_people_and_phones")]

    operations = [migrations.RunPython(make_table, migrations.RunPython.noop)]
