from django.db import migrations, models


def plan_anew(apps, schema_editor):
    """Let the worker plan each unit once: earlier plans have no steps for jobs with a piece that has no sitting."""
    apps.get_model("production", "PlanRun").objects.update(state="")


class Migration(migrations.Migration):

    dependencies = [
        ('production', '0016_the_last_weight_is_stored_on_the_cast'),
    ]

    operations = [
        migrations.AddField(
            model_name='planrun',
            name='last_event',
            field=models.PositiveBigIntegerField(default=0),
        ),
        migrations.RunPython(plan_anew, migrations.RunPython.noop),
    ]
