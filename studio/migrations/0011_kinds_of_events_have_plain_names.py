from django.db import migrations

NEW_NAMES = {
    "log_impression": "log_print",
    "lose_impression": "lose_print",
    "price_anew": "reprice",
}


def rename(apps, names):
    events = apps.get_model("studio", "JobEvent").objects
    for old, new in names.items():
        events.filter(what=old).update(what=new)


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0010_facts_of_events"),
    ]

    operations = [
        migrations.RunPython(
            lambda apps, editor: rename(apps, NEW_NAMES),
            lambda apps, editor: rename(apps, {new: old for old, new in NEW_NAMES.items()}),
        ),
    ]
