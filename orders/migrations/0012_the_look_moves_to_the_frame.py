"""Backings and finishes of the price lists become options, and the look of each order part of its job's frame."""

from itertools import islice
from typing import Any

from django.db import migrations

LOOK = ('backing', 'finish')
AT_ONCE = 2000


def options_of_prices(apps: Any) -> dict[int, int]:
    """The option that each price of a backing or finish is for, by the price's primary key."""
    Price = apps.get_model('orders', 'Price')
    FrameOption = apps.get_model('production', 'FrameOption')
    found = {}
    for price in Price.objects.filter(kind__in=LOOK).select_related('price_list'):
        price.option, _ = FrameOption.objects.get_or_create(
            unit_id=price.price_list.unit_id, kind=price.kind, name=price.label
        )
        price.save(update_fields=['option'])
        found[price.pk] = price.option_id
    return found


def look_to_frame(apps: Any, schema_editor: Any) -> None:
    Order = apps.get_model('orders', 'Order')
    FrameSpecification = apps.get_model('production', 'FrameSpecification')
    options = options_of_prices(apps)
    known = FrameSpecification.objects.in_bulk(field_name='job_id')
    # A tablet or a form that is open meanwhile has seen the order's version: the frame goes on with it.
    names = ['backing_id', 'finish_id', 'plate_words', 'layout_words', 'version']

    def specified(order: Any) -> Any:
        row = known.get(order.job_id) or FrameSpecification(job_id=order.job_id)
        row.backing_id, row.finish_id = options.get(order.backing_id), options.get(order.finish_id)
        row.plate_words, row.layout_words = order.plate_words, order.layout_words
        row.version = order.version
        return row

    chosen = Order.objects.exclude(
        version=1, backing=None, finish=None, plate_words='', layout_words=''
    ) | Order.objects.filter(job__in=list(known))
    specifications = map(specified, chosen.iterator(AT_ONCE))
    while rows := list(islice(specifications, AT_ONCE)):
        FrameSpecification.objects.bulk_create([row for row in rows if row.pk is None])
        FrameSpecification.objects.bulk_update(
            [row for row in rows if row.job_id in known],
            [name.removesuffix('_id') for name in names],
            batch_size=100,
        )


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0011_prices_of_frame_options'),
    ]

    operations = [
        migrations.RunPython(look_to_frame, migrations.RunPython.noop),
    ]
