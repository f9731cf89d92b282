"""A voucher on paper."""

from orders.vouchers.models import Voucher
from studio.web import paper


def voucher_card(voucher: Voucher) -> bytes:
    """A gift card to cut out: its worth, its code, its day; no price. One query, for the unit."""
    return paper.pdf("paper/voucher.html", {"voucher": voucher, "unit": voucher.unit})
