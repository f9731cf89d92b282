"""How a price came about was kept as sentences, which are read once here; what cannot be read is kept."""

import re

from django.db import migrations, models

AT_ONCE = 1000
AMOUNT = r"[^0-9]{0,4}[0-9][0-9,.]*"
COVERS = re.compile(rf"((?:[0-9]+ of .+?)(?:, [0-9]+ of .+?)*(?: and [0-9]+ of .+?)?): ({AMOUNT})\.")
SAVES = re.compile(
    rf"([0-9]+) single casts would be ({AMOUNT}); the cheapest lawful mix of this list is "
    rf"({AMOUNT}), {AMOUNT} less\."
)
STEP = re.compile(r"([0-9]+) (mm|km): the step up to ([0-9]+) (?:mm|km)\.")
PERCENT = re.compile(rf"([0-9.]+) % of ({AMOUNT}), to the penny\.")
KNOWN = {
    "The size is not known yet: this is the price until then.": {"of": "size_unknown"},
    "This family has had casts before.": {"of": "given", "given": "returning"},
    "This family asked at a fair.": {"of": "given", "given": "fair"},
}


def minor(amount):
    """Amounts were said with all their decimals: "£1,234.50" is 123450."""
    return int(re.sub("[^0-9]", "", amount))


def covers(found):
    pieces = re.split(r"(?:, | and )(?=[0-9]+ of )", found[1])
    counted = [each.split(" of ", 1) for each in pieces]
    return {
        "of": "covers",
        "pieces": [[name, int(count)] for count, name in counted],
        "each_minor": minor(found[2]),
    }


def read_sentence(sentence):
    if sentence in KNOWN:
        return KNOWN[sentence]
    if found := STEP.fullmatch(sentence):
        return {"of": "step", "size": int(found[1]), "up_to": int(found[3]), "unit": found[2]}
    if found := PERCENT.fullmatch(sentence):
        return {"of": "percent", "percent": found[1], "base_minor": minor(found[2])}
    if found := SAVES.fullmatch(sentence):
        return {
            "of": "saves",
            "pieces": int(found[1]),
            "singly_minor": minor(found[2]),
            "total_minor": minor(found[3]),
        }
    if found := COVERS.fullmatch(sentence):
        return covers(found)
    return {"of": "typed", "words": sentence}


def read_lines(apps, schema_editor):
    OrderLine = apps.get_model("orders", "OrderLine")
    told = OrderLine.objects.exclude(how="").order_by("pk")
    last = 0
    while lines := list(told.filter(pk__gt=last)[:AT_ONCE]):
        last = lines[-1].pk
        for line in lines:
            line.facts = [read_sentence(sentence) for sentence in line.how.splitlines()]
        OrderLine.objects.bulk_update(lines, ["facts"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("orders", "0009_sums_of_invoices")]

    operations = [
        migrations.AddField(
            model_name="orderline",
            name="facts",
            field=models.JSONField(blank=True, default=list),
        ),
        migrations.RunPython(read_lines, migrations.RunPython.noop),
        migrations.RemoveField(model_name="orderline", name="how"),
        migrations.RenameField(model_name="orderline", old_name="facts", new_name="how"),
    ]
