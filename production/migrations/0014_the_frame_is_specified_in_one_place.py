import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('production', '0013_the_day_to_order_is_stored'),
        ('studio', '0009_who_tapped_it'),
    ]

    operations = [
        migrations.CreateModel(
            name='FrameOption',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('backing', 'backing'), ('finish', 'oak finish')], max_length=10)),
                ('name', models.CharField(max_length=80)),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='frame_options', to='studio.unit')),
            ],
        ),
        migrations.AddConstraint(
            model_name='frameoption',
            constraint=models.UniqueConstraint(fields=('unit', 'kind', 'name'), name='frame_option_once'),
        ),
        # The table keeps its name.
        migrations.AlterModelTable(name='framechoice', table='production_framechoice'),
        migrations.RenameModel(old_name='FrameChoice', new_name='FrameSpecification'),
        migrations.AlterField(
            model_name='framespecification',
            name='job',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='frame_specification', to='studio.job'),
        ),
        migrations.AddField(
            model_name='framespecification',
            name='backing',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='production.frameoption'),
        ),
        migrations.AddField(
            model_name='framespecification',
            name='finish',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='production.frameoption'),
        ),
        migrations.AddField(
            model_name='framespecification',
            name='plate_words',
            field=models.CharField(blank=True, max_length=200, verbose_name='words on the plate'),
        ),
        migrations.AddField(
            model_name='framespecification',
            name='layout_words',
            field=models.CharField(blank=True, max_length=200, verbose_name='how the casts lie'),
        ),
    ]
