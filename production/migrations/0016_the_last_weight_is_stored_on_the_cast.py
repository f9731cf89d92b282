from django.db import migrations, models


def store_last_weights(apps, schema_editor):
    """Store on each cast its last weighing that was not struck out."""
    Cast = apps.get_model("production", "Cast")
    Weighing = apps.get_model("production", "Weighing")
    weighings = Weighing.objects.filter(cast=models.OuterRef("pk"), struck_at=None)
    last = weighings.order_by("-at", "-pk")
    Cast.objects.update(
        last_weighed_at=models.Subquery(last.values("at")[:1]),
        last_g=models.Subquery(last.values("mass_g")[:1]),
    )


class Migration(migrations.Migration):

    dependencies = [
        ('production', '0015_stock_moves_name_the_clay_print'),
    ]

    operations = [
        migrations.AddField(
            model_name='cast',
            name='last_weighed_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='cast',
            name='last_g',
            field=models.FloatField(blank=True, null=True, verbose_name='last weight, g'),
        ),
        migrations.RunPython(store_last_weights, migrations.RunPython.noop),
    ]
