"""The gift card of a voucher as PDF."""

from django.utils.translation import gettext as _

from orders.vouchers.models import Voucher
from studio.web import paper


def voucher_card(voucher: Voucher) -> bytes:
    """Render a gift card with value, code and expiry, without the price. One query, for the unit."""
    name = _("Voucher %(code)s") % {"code": voucher.display_code}
    context = {"paper_name": name, "voucher": voucher, "unit": voucher.unit}
    return paper.pdf("paper/voucher.html", context)
