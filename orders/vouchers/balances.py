"""Balances of vouchers, and the liability of the studio for all of them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, cast

from django.db.models import Sum

from orders.vouchers import voucher_redemption

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from orders.payments.models import Payment
    from orders.vouchers.models import Voucher
    from studio.accounts.models import Unit


@dataclass(frozen=True, slots=True)
class Liability:
    """The unit's vouchers on a day, in minor units of their value."""

    sold: int
    open: int
    open_minor: int
    """The unused value."""
    taxed_minor: int
    """The part of it that was taxed when sold, so that no more tax is due."""
    ends_soon_minor: int
    """The part of it that expires within 60 days."""
    run_out_minor: int
    """The value that expired unused."""


ENDS_SOON_DAYS = 60


def left_on(voucher: "Voucher") -> int:
    """Return the unused value of a voucher in minor units. One query."""
    used = voucher.payments.aggregate(sum=Sum("amount_minor"))["sum"] or 0
    return voucher.value_minor - used


def parts_of(vouchers: "QuerySet[Voucher]") -> dict[int, voucher_redemption.Part]:
    """Return by payment its part of the voucher's price and tax. Two queries."""
    return {
        payment.pk: part
        for voucher in vouchers.prefetch_related("payments")
        for payment, part in _parts(voucher)
    }


def _parts(voucher: "Voucher") -> "Iterable[tuple[Payment, voucher_redemption.Part]]":
    uses = sorted(voucher.payments.all(), key=lambda payment: payment.pk)
    shared = voucher_redemption.parts(voucher.sold, [payment.amount_minor for payment in uses])
    return zip(uses, shared, strict=True)


def liability(unit: "Unit", today: date) -> Liability:
    """Return the unit's liability for vouchers. One query."""
    vouchers = cast(Any, unit.vouchers.not_cancelled().with_left())
    rows: Iterable[tuple[date, int, bool]] = vouchers.values_list(
        "expires_on", "left", "taxed_when_sold"
    )
    found = list(rows)
    still = [(on, left, taxed) for on, left, taxed in found if on >= today and left > 0]
    return Liability(
        sold=len(found),
        open=len(still),
        open_minor=sum(left for _, left, _ in still),
        taxed_minor=sum(left for _, left, taxed in still if taxed),
        ends_soon_minor=sum(left for on, left, _ in still if (on - today).days < ENDS_SOON_DAYS),
        run_out_minor=sum(left for on, left, _ in found if on < today),
    )
