from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("bookings", "0008_clay_prints"),
        ("production", "0014_the_frame_is_specified_in_one_place"),
    ]

    operations = [
        migrations.RenameField(model_name="stockmove", old_name="impression", new_name="clay_print"),
    ]
