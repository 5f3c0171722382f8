from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("studio", "0003_do_re_mi_in_three_spellings")]

    operations = [
        migrations.AddField(
            model_name="student",
            name="parents_see_hurts",
            field=models.BooleanField(default=False),
        ),
    ]
