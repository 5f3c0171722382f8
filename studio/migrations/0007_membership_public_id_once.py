from django.db import migrations, models

import studio.models


class Migration(migrations.Migration):
    dependencies = [("studio", "0006_the_first_teacher_owns_the_studio")]

    operations = [
        migrations.AlterField(
            model_name="membership",
            name="public_id",
            field=models.CharField(
                default=studio.models.new_public_id, editable=False, max_length=16, unique=True
            ),
        ),
    ]
