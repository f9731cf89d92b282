from dataclasses import asdict

import django.db.models.deletion
from django.db import migrations, models
from django.utils import timezone

from bookings.sittings import ages
from production.casts import limb_sizes


def store_calibrations(apps, schema_editor):
    """Calibrate each unit that has measured prints, from its newest 200 as `production.casts.measures` does."""
    prints = apps.get_model("bookings", "ClayPrint").objects.filter(
        outcome="taken", length_mm__isnull=False
    )
    for unit in apps.get_model("studio", "Unit").objects.filter(sittings__prints__in=prints).distinct():
        measured: dict[limb_sizes.Limb, list[limb_sizes.MeasuredLimb]] = {"hand": [], "foot": []}
        newest = prints.filter(sitting__unit=unit).order_by("-taken_at", "-pk")[:200]
        for each in newest.select_related("piece__child"):
            child = each.piece.child
            day = timezone.localtime(each.taken_at).date()
            days = max(ages.corrected_days(child.born_on, child.due_on, day), 0)
            kind: limb_sizes.Limb = "foot" if "foot" in each.piece.limb else "hand"
            measured[kind].append(
                limb_sizes.MeasuredLimb(child.pk, limb_sizes.age_in_months(days), float(each.length_mm))
            )
        for kind, lengths in measured.items():
            found = asdict(limb_sizes.calibrate(kind, lengths))
            apps.get_model("production", "LimbCalibration").objects.create(unit=unit, kind=kind, **found)


class Migration(migrations.Migration):

    dependencies = [
        ('bookings', '0008_clay_prints'),
        ('production', '0017_the_plan_knows_its_newest_event'),
        ('studio', '0012_earliest_age_has_its_full_label'),
    ]

    operations = [
        migrations.CreateModel(
            name='LimbCalibration',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('hand', 'hand'), ('foot', 'foot')], max_length=4)),
                ('children', models.PositiveIntegerField()),
                ('shift_sd', models.FloatField()),
                ('spread', models.FloatField()),
                ('unit', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='limb_calibrations', to='studio.unit')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('unit', 'kind'), name='one_calibration_a_kind')],
            },
        ),
        migrations.RunPython(store_calibrations, migrations.RunPython.noop),
    ]
