import django.db.models.deletion
import studio.models
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('studio', '0004_parents_may_see_what_hurts'),
    ]

    operations = [
        migrations.CreateModel(
            name='AuditLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('moment', models.DateTimeField()),
                ('kind', models.CharField(max_length=20)),
                ('about', models.CharField(max_length=16)),
                ('to', models.CharField(blank=True, max_length=20)),
            ],
        ),
        migrations.CreateModel(
            name='Invitation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=studio.models.new_public_id, editable=False, max_length=16, unique=True)),
                ('role', models.CharField(max_length=20)),
                ('ends_on', models.DateField(blank=True, null=True)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('token_hash', models.CharField(max_length=80, unique=True)),
                ('made_at', models.DateTimeField()),
                ('expires_at', models.DateTimeField()),
                ('used_at', models.DateTimeField(blank=True, null=True)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='membership',
            name='ended_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='membership',
            name='own_students_only',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='membership',
            name='public_id',
            field=models.CharField(editable=False, max_length=16, null=True),
        ),
        migrations.AddField(
            model_name='student',
            name='teacher',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='studio',
            name='caution',
            field=models.CharField(default='usual', max_length=10),
        ),
        migrations.AddField(
            model_name='studio',
            name='keep_months',
            field=models.PositiveSmallIntegerField(default=24),
        ),
        migrations.AddField(
            model_name='user',
            name='look',
            field=models.CharField(blank=True, max_length=10),
        ),
        migrations.AddConstraint(
            model_name='studio',
            constraint=models.CheckConstraint(condition=models.Q(('keep_months__gte', 12), ('keep_months__lte', 60)), name='studio_keeps_years'),
        ),
        migrations.AddField(
            model_name='auditline',
            name='by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='auditline',
            name='studio',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, to='studio.studio'),
        ),
        migrations.AddField(
            model_name='invitation',
            name='made_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='invitation',
            name='studio',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, to='studio.studio'),
        ),
    ]
