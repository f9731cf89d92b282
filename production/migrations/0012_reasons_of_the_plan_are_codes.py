"""A step of the plan holds its reason as codes; sentences of plans made before are kept as they are."""

from django.db import migrations, models

AT_ONCE = 1000


def keep_sentences(apps, schema_editor):
    PlanStep = apps.get_model("production", "PlanStep")
    last = 0
    while steps := list(PlanStep.objects.filter(pk__gt=last).order_by("pk")[:AT_ONCE]):
        last = steps[-1].pk
        for step in steps:
            step.reason = [["typed", step.why]] if step.why else []
            step.moved_reason = [["typed", step.moved_why]] if step.moved_why else []
        PlanStep.objects.bulk_update(steps, ["reason", "moved_reason"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("production", "0011_boards_and_glass_of_the_stores")]

    operations = [
        migrations.AddField(
            model_name="planstep",
            name="reason",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.AddField(
            model_name="planstep",
            name="moved_reason",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.RunPython(keep_sentences, migrations.RunPython.noop),
        migrations.RemoveField(model_name="planstep", name="why"),
        migrations.RemoveField(model_name="planstep", name="moved_why"),
    ]
