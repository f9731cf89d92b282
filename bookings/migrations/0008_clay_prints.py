from django.db import migrations, models


class Migration(migrations.Migration):
    """`Impression` becomes `ClayPrint`; its table keeps its name."""

    dependencies = [
        # The last that refers to `Impression`: without it a new database could be built in another order.
        ("production", "0014_the_frame_is_specified_in_one_place"),
        ("bookings", "0007_measured_prints_and_words_taken_back_are_found"),
    ]

    operations = [
        migrations.AlterModelTable(name="impression", table="bookings_impression"),
        migrations.RenameModel(old_name="Impression", new_name="ClayPrint"),
        migrations.AlterField(
            model_name="clayprint",
            name="piece",
            field=models.ForeignKey(
                on_delete=models.PROTECT, related_name="prints", to="studio.piece"
            ),
        ),
        migrations.AlterField(
            model_name="clayprint",
            name="sitting",
            field=models.ForeignKey(
                on_delete=models.PROTECT, related_name="prints", to="bookings.sitting"
            ),
        ),
    ]
