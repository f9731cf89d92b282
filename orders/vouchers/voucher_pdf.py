"""The gift card of a voucher as PDF."""

from orders.vouchers.models import Voucher
from studio.web import paper


def voucher_card(voucher: Voucher) -> bytes:
    """Render a gift card with value, code and expiry, without the price. One query, for the unit."""
    return paper.pdf("paper/voucher.html", {"voucher": voucher, "unit": voucher.unit})
