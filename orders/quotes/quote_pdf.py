"""The PDF of an accepted price."""

from django.utils.translation import gettext as _

from orders.quotes.models import Quote
from studio.web import paper


def quote(accepted: Quote) -> bytes:
    """Render an accepted price from its frozen content. Two queries, for unit and job."""
    content = accepted.content
    lines = [
        line | {"amount_minor": line["quantity"] * line["unit_minor"]} for line in content["lines"]
    ]
    reference = accepted.order.job.display_reference
    context = {
        "paper_name": _("Order %(reference)s") % {"reference": reference},
        "quote": accepted,
        "content": content | {"lines": lines},
        "reference": reference,
        "unit": accepted.unit,
    }
    return paper.pdf("paper/quote.html", context)
