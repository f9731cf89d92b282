"""Edit price lists and VAT rates: dated rows that are fixed once used."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import transaction

from orders.prices.models import Price, PriceBand, PriceList, VatRate
from production.frames.models import FrameOption
from studio import units
from studio.accounts.actions import lock_unit
from studio.accounts.models import Unit
from studio.stages import ActionRefused

_COPIED = (
    "kind",
    "label",
    "option",
    "amount_minor",
    "pieces",
    "one_child",
    "percent",
    "given",
    "order",
)

_BY_SIZE = (Price.Kind.BACKING, Price.Kind.FINISH, Price.Kind.DELIVERY)


@transaction.atomic
def make_price_list(unit: Unit, *, valid_from: date, copy_of: PriceList | None = None) -> PriceList:
    """Make a price list in force from a day, with the prices of `copy_of`.

    Raises ActionRefused if another list begins that day.
    """
    lock_unit(unit)
    if unit.price_lists.filter(valid_from=valid_from).exists():
        raise ActionRefused(
            f"A list of prices from {units.full_day(valid_from)} exists already. Choose another day."
        )
    made = PriceList.objects.create(unit=unit, valid_from=valid_from)
    if copy_of:
        _copy_prices(copy_of, made)
    return made


@transaction.atomic
def drop_price_list(price_list: PriceList) -> None:
    """Delete a price list. Raises ActionRefused if an order was priced on it."""
    locked = _unused(price_list)
    locked.prices.all().delete()
    locked.delete()


@transaction.atomic
def add_price(price_list: PriceList, *, facts: Mapping[str, Any]) -> Price:
    """Add a price to a list.

    `facts` has kind, label, amount_minor, pieces and one_child; percent and given for a discount.
    Raises ActionRefused if an order was priced on the list, or the label is taken.
    """
    locked = _unused(price_list)
    _refuse_double(locked, facts)
    last = locked.prices.order_by("-order").values_list("order", flat=True).first()
    return locked.prices.create(
        **facts, option=_option(locked, facts), order=0 if last is None else last + 1
    )


@transaction.atomic
def change_price(price: Price, *, facts: Mapping[str, Any]) -> Price:
    """Change a price. Raises what `add_price` raises."""
    locked = _unused(price.price_list)
    _refuse_double(locked, facts, but=price)
    changes = {**facts, "option": _option(locked, facts)}
    for name, value in changes.items():
        setattr(price, name, value)
    price.save(update_fields=list(changes))
    return price


@transaction.atomic
def drop_price(price: Price) -> None:
    """Delete a price. Raises ActionRefused if an order was priced on its list."""
    _unused(price.price_list)
    price.delete()


@transaction.atomic
def set_bands(price: Price, *, bands: Iterable[tuple[int, int]]) -> Price:
    """Set the bands of a price: (up to, minor units) by frame size in mm or distance in km.

    No bands: one price for all sizes. Raises ActionRefused for a kind without size, a repeated
    band, or once an order was priced on the list.
    """
    _unused(price.price_list)
    steps = sorted(bands)
    if price.kind not in _BY_SIZE and steps:
        raise ActionRefused("Only backings, frames and deliveries go by size or distance.")
    if len({up_to for up_to, _ in steps}) < len(steps):
        raise ActionRefused("Two steps end at the same size: change one of them.")
    price.bands.all().delete()
    PriceBand.objects.bulk_create(
        PriceBand(price=price, up_to=up_to, amount_minor=amount_minor)
        for up_to, amount_minor in steps
    )
    return price


@transaction.atomic
def set_vat_rate(unit: Unit, *, valid_from: date, percent: Decimal) -> VatRate:
    """Set the VAT rate of the unit from a day; correcting it is possible until it is used.

    Raises ActionRefused if an invoice with VAT has a date of supply since that day.
    """
    lock_unit(unit)
    used = unit.invoices.filter(supplied_on__gte=valid_from, content__has_key="vat_minor")
    if number := used.values_list("number", flat=True).first():
        raise ActionRefused(
            f"Invoice {number} was issued with the rate of that time. "
            "Write the new rate from a later day."
        )
    rate, _ = VatRate.objects.update_or_create(
        unit=unit, valid_from=valid_from, defaults={"percent": percent}
    )
    return rate


def _copy_prices(old: PriceList, new: PriceList) -> None:
    for price in old.prices.select_related("option").prefetch_related("bands"):
        made = new.prices.create(**{name: getattr(price, name) for name in _COPIED})
        PriceBand.objects.bulk_create(
            PriceBand(price=made, up_to=band.up_to, amount_minor=band.amount_minor)
            for band in price.bands.all()
        )


def _option(price_list: PriceList, facts: Mapping[str, Any]) -> FrameOption | None:
    """Return the frame option of this name, creating it if it is new."""
    if facts["kind"] not in FrameOption.Kind.values:
        return None
    option, _ = price_list.unit.frame_options.get_or_create(kind=facts["kind"], name=facts["label"])
    return option


def _unused(price_list: PriceList) -> PriceList:
    locked = PriceList.objects.select_for_update().get(pk=price_list.pk)
    if locked.unit.orders.filter(price_list=locked).exists():
        raise ActionRefused(
            "Orders were priced on this list, so it stays as it is. "
            "Make a new list from a later day and change the prices there."
        )
    return locked


def _refuse_double(
    price_list: PriceList, facts: Mapping[str, Any], but: Price | None = None
) -> None:
    same = price_list.prices.filter(kind=facts["kind"], label=facts["label"]).first()
    if same and same != but:
        raise ActionRefused(f"“{facts['label']}” is on this list already.")
