"""How the lines of an order come to lie: casts, look, discounts, each with the words of how it came about.

Called by the actions inside their transaction.
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

PLACE = {
    Kind.CASTS: 0,
    Kind.BACKING: 100,
    Kind.FINISH: 110,
    Kind.COPY: 190,
    Kind.EXTRA: 200,
    Kind.DELIVERY: 250,
    Kind.DISCOUNT: 300,
}

PLACE_OF_REDUCTIONS = 310

_SPOKEN = {Kind.BACKING: "Backing: ", Kind.FINISH: "Finish: "}


def lay_casts(order: Order) -> None:
    """Raises ActionRefused where the list cannot make up the pieces exactly."""
    lines = _casts(order)
    order.lines.filter(price__kind=Kind.CASTS).delete()
    OrderLine.objects.bulk_create(lines)


def read_size(order: Order, on: date) -> bool:
    """Read the frame's longest side where prices go by it; return whether it differs from the one priced.

    One that was known stays until another is. About ten queries, one where no price goes by size.
    """
    if not goes_by_size(order.price_list):
        return False
    inside = inside_size(order.job, on)
    if inside is None or inside.longest_mm == order.frame_mm:
        return False
    order.frame_mm = inside.longest_mm
    order.save(update_fields=["frame_mm"])
    return True


def lay_look(order: Order) -> None:
    """Raises ActionRefused for a frame larger than the list's steps."""
    lines = [
        _line(order, price, size=order.frame_mm, unit="mm")
        for kind in (Kind.BACKING, Kind.FINISH)
        if (price := order.price_of(kind))
    ]
    order.lines.filter(price__kind__in=(Kind.BACKING, Kind.FINISH)).delete()
    OrderLine.objects.bulk_create(lines)


def lay_one(order: Order, price: Price, quantity: int = 1, *, km: int | None = None) -> OrderLine:
    """An extra, a copy or a delivery. Raises ActionRefused beyond the steps of the list."""
    line = _line(order, price, quantity=quantity, size=km, unit="km")
    line.save()
    return line


def balance_lines(order: Order) -> None:
    """After any change of lines: discounts follow the price, and `settled` the balance."""
    lines = list(order.lines.select_related("price"))
    discounts = [line for line in lines if line.price and line.price.kind == Kind.DISCOUNT]
    others = [line.amount_minor for line in lines if line not in discounts]
    # Reckoned on all that is charged; what was taken off by hand stays beside it.
    base_minor = sum(amount for amount in others if amount > 0)
    already_minor = -sum(amount for amount in others if amount < 0)
    rules = [(line.price.percent, line.price.amount_minor) for line in discounts if line.price]
    taken = pricing.discounts(base_minor, rules, already_minor=already_minor)
    for line, off_minor in zip(discounts, taken, strict=True):
        price = line.price
        assert price is not None  # noqa: S101 - for the type checker: see the list above
        percent = f"{price.percent.normalize():f}" if price.percent else ""
        line.unit_minor = -off_minor
        line.how = price_explanations.of_discount(base_minor, percent, price.given)
        line.save(update_fields=["unit_minor", "how"])
    settle(order)


def give_what_is_due(order: Order) -> None:
    """The discounts of the list that this family has without asking; those that lie are kept."""
    family, there = order.job.family, set(order.lines.values_list("price_id", flat=True))
    due = []
    if family.jobs.filter(stage=Stage.HANDED_OVER).exclude(pk=order.job_id).exists():
        due.append(Price.Given.RETURNING)
    if family.enquiries.filter(source="fair").exists():
        due.append(Price.Given.FAIR)
    for price in order.price_list.prices.filter(kind=Kind.DISCOUNT, given__in=due):
        if price.pk not in there:
            lay_discount(order, price)


def lay_discount(order: Order, price: Price) -> None:
    order.lines.create(price=price, label=price.label, unit_minor=0, position=PLACE[Kind.DISCOUNT])


def price_of_choice(price: Price, size: int | None) -> int:
    """Raises ActionRefused beyond the steps of the list."""
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
    told = price_explanations.of_casts(pieces, offers, chosen, pricing.laid_out(pieces, chosen))
    return [
        OrderLine(
            order=order,
            price=prices[one.offer.code],
            label=one.offer.label,
            quantity=one.quantity,
            unit_minor=one.offer.price_minor,
            how=told[one.offer.code],
            position=PLACE[Kind.CASTS],
        )
        for one in chosen
    ]


def _line(
    order: Order, price: Price, *, quantity: int = 1, size: int | None, unit: str
) -> OrderLine:
    unit_minor = price_of_choice(price, size)
    return OrderLine(
        order=order,
        price=price,
        label=f"{_SPOKEN.get(Kind(price.kind), '')}{price.label}",
        quantity=quantity,
        unit_minor=unit_minor,
        how=price_explanations.of_bands(price.bands_of(), size, unit),
        position=PLACE[Kind(price.kind)],
    )
