import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0010_prices_say_how_in_facts'),
        ('production', '0014_the_frame_is_specified_in_one_place'),
    ]

    operations = [
        migrations.AddField(
            model_name='price',
            name='option',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='prices', to='production.frameoption'),
        ),
        migrations.AlterField(
            model_name='order',
            name='frame_mm',
            field=models.PositiveSmallIntegerField(blank=True, editable=False, null=True),
        ),
    ]
