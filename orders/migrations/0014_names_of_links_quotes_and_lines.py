from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    """`ParentLink` becomes `FamilyLink` and keeps its table; `how` and `told` get telling names."""

    dependencies = [
        ("orders", "0013_orders_price_the_frame"),
    ]

    operations = [
        migrations.AlterModelTable(name="parentlink", table="orders_parentlink"),
        migrations.RenameModel(old_name="ParentLink", new_name="FamilyLink"),
        migrations.AlterField(
            model_name="familylink",
            name="job",
            field=models.ForeignKey(
                on_delete=models.PROTECT, related_name="family_links", to="studio.job"
            ),
        ),
        migrations.RenameField(
            model_name="orderline", old_name="how", new_name="price_explanations"
        ),
        migrations.RenameField(
            model_name="quote", old_name="told", new_name="precontract_information"
        ),
        # The constraint names the field, and would keep the old name.
        migrations.RemoveConstraint(model_name="quote", name="quote_by_the_family_or_somebody"),
        migrations.RenameField(model_name="quote", old_name="how", new_name="method"),
        migrations.AddConstraint(
            model_name="quote",
            constraint=models.CheckConstraint(
                condition=Q(method="link", by=None) | (~Q(method="link") & Q(by__isnull=False)),
                name="quote_by_the_family_or_somebody",
            ),
        ),
    ]
