from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0012_the_look_moves_to_the_frame'),
    ]

    operations = [
        migrations.RemoveField(model_name='order', name='backing'),
        migrations.RemoveField(model_name='order', name='finish'),
        migrations.RemoveField(model_name='order', name='layout_words'),
        migrations.RemoveField(model_name='order', name='plate_words'),
        migrations.RemoveField(model_name='order', name='version'),
        migrations.AddConstraint(
            model_name='price',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ('backing', 'finish')), ('option__isnull', False)), models.Q(models.Q(('kind__in', ('backing', 'finish')), _negated=True), ('option', None)), _connector='OR'), name='price_of_a_look_names_its_option'),
        ),
    ]
