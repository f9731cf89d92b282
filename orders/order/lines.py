"""The order lines that follow from casts, look and discounts, each with its price explanation.

Call these functions inside the transaction of an action.
"""

from collections import Counter
from collections.abc import Hashable
from datetime import date

from orders.order import price_explanations
from orders.order.models import Order, OrderLine
from orders.order.settlement import settle
from orders.prices import pricing
from orders.prices.models import Price
from orders.prices.price_lists import goes_by_size
from production.frames.job_frames import inside_size
from studio.stages import ActionRefused, Stage

Kind = Price.Kind

POSITION = {
    Kind.CASTS: 0,
    Kind.BACKING: 100,
    Kind.FINISH: 110,
    Kind.COPY: 190,
    Kind.EXTRA: 200,
    Kind.DELIVERY: 250,
    Kind.DISCOUNT: 300,
}

REDUCTION_POSITION = 310

_LABEL_PREFIX = {Kind.BACKING: "Backing: ", Kind.FINISH: "Finish: "}  # see OrderLine.words


def replace_cast_lines(order: Order) -> None:
    """Replace the lines of the casts. Raises ActionRefused if the list cannot price the pieces
    exactly.
    """
    lines = _casts(order)
    order.lines.filter(price__kind=Kind.CASTS).delete()
    OrderLine.objects.bulk_create(lines)


def update_frame_size(order: Order, on: date) -> bool:
    """Store the frame's longest side if prices depend on it; return whether it changed.

    A known size remains while the frame has none. About ten queries, one if no price depends on
    size.
    """
    if not goes_by_size(order.price_list):
        return False
    inside = inside_size(order.job, on)
    if inside is None or inside.longest_mm == order.frame_mm:
        return False
    order.frame_mm = inside.longest_mm
    order.save(update_fields=["frame_mm"])
    return True


def replace_look_lines(order: Order) -> None:
    """Replace the lines of backing and finish. Raises ActionRefused for a frame beyond the last
    band.
    """
    lines = [
        _line(order, price, size=order.frame_mm, unit="mm")
        for kind in (Kind.BACKING, Kind.FINISH)
        if (price := order.price_of(kind))
    ]
    order.lines.filter(price__kind__in=(Kind.BACKING, Kind.FINISH)).delete()
    OrderLine.objects.bulk_create(lines)


def add_line(order: Order, price: Price, quantity: int = 1, *, km: int | None = None) -> OrderLine:
    """Add an extra, a second cast or a delivery. Raises ActionRefused beyond the last band."""
    line = _line(order, price, quantity=quantity, size=km, unit="km")
    line.save()
    return line


def update_discounts(order: Order) -> None:
    """Recalculate discounts and `settled`; call it after every change of lines."""
    lines = list(order.lines.select_related("price"))
    discounts = [line for line in lines if line.price and line.price.kind == Kind.DISCOUNT]
    others = [line.amount_minor for line in lines if line not in discounts]
    # Computed on all charges; reductions by hand are not part of the base.
    base_minor = sum(amount for amount in others if amount > 0)
    already_minor = -sum(amount for amount in others if amount < 0)
    rules = [(line.price.percent, line.price.amount_minor) for line in discounts if line.price]
    taken = pricing.discounts(base_minor, rules, already_minor=already_minor)
    for line, off_minor in zip(discounts, taken, strict=True):
        price = line.price
        assert price is not None  # noqa: S101 - for the type checker: see the list above
        percent = f"{price.percent.normalize():f}" if price.percent else ""
        line.unit_minor = -off_minor
        line.price_explanations = price_explanations.explain_discount(
            base_minor, percent, price.given
        )
        line.save(update_fields=["unit_minor", "price_explanations"])
    settle(order)


def add_automatic_discounts(order: Order) -> None:
    """Add the list's discounts for returning families and fair visitors if they apply."""
    family, there = order.job.family, set(order.lines.values_list("price_id", flat=True))
    due = []
    if family.jobs.filter(stage=Stage.HANDED_OVER).exclude(pk=order.job_id).exists():
        due.append(Price.Given.RETURNING)
    if family.enquiries.filter(source="fair").exists():
        due.append(Price.Given.FAIR)
    for price in order.price_list.prices.filter(kind=Kind.DISCOUNT, given__in=due):
        if price.pk not in there:
            add_discount_line(order, price)


def add_discount_line(order: Order, price: Price) -> None:
    """Add a discount; `update_discounts` then computes its amount."""
    order.lines.create(
        price=price, label=price.label, unit_minor=0, position=POSITION[Kind.DISCOUNT]
    )


def price_at_size(price: Price, size: int | None) -> int:
    """Return the price at a size, in minor units. Raises ActionRefused beyond the last band."""
    try:
        return price.at_size(size)
    except ValueError as beyond:
        raise ActionRefused(f"“{price.label}”: {beyond}") from None


def _casts(order: Order) -> list[OrderLine]:
    prices = {str(p.pk): p for p in order.price_list.prices.filter(kind=Kind.CASTS)}
    offers = [
        pricing.Offer(code, p.label, p.pieces, p.amount_minor, p.one_child)
        for code, p in prices.items()
    ]
    on_the_job = order.job.pieces.on_the_job().select_related("child")
    pieces = Counter[Hashable](piece.child for piece in on_the_job)
    try:
        chosen = pricing.cheapest(pieces, offers)
    except ValueError as impossible:
        raise ActionRefused(str(impossible)) from None
    explanations = price_explanations.explain_casts(
        pieces, offers, chosen, pricing.laid_out(pieces, chosen)
    )
    return [
        OrderLine(
            order=order,
            price=prices[one.offer.code],
            label=one.offer.label,
            quantity=one.quantity,
            unit_minor=one.offer.price_minor,
            price_explanations=explanations[one.offer.code],
            position=POSITION[Kind.CASTS],
        )
        for one in chosen
    ]


def _line(
    order: Order, price: Price, *, quantity: int = 1, size: int | None, unit: str
) -> OrderLine:
    unit_minor = price_at_size(price, size)
    return OrderLine(
        order=order,
        price=price,
        label=f"{_LABEL_PREFIX.get(Kind(price.kind), '')}{price.label}",
        quantity=quantity,
        unit_minor=unit_minor,
        price_explanations=price_explanations.explain_bands(price.bands_of(), size, unit),
        position=POSITION[Kind(price.kind)],
    )
