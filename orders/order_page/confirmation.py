"""The order confirmation as PDF: pieces, look drawn to scale, and price."""

from datetime import datetime

from django.utils import timezone
from django.utils.translation import gettext as _

from orders.order import totals
from orders.order.models import Order
from orders.order.totals import FINISHED
from production.frames.job_frames import frame_of
from studio.web import paper


def confirmation_pdf(order: Order, now: datetime) -> bytes:
    """Render the confirmation of the order's current state. About a dozen queries."""
    job, today = order.job, timezone.localdate(now)
    frame = frame_of(job, today)
    context = {
        "paper_name": _("Order %(reference)s") % {"reference": job.display_reference},
        "unit": job.unit,
        "job": job,
        "order": order,
        "pieces": [piece for piece in job.pieces.all() if not piece.left_off_at],
        "lines": list(order.lines.all()),
        "sums": totals.sums(order),
        "finished": job.stage in FINISHED,
        "proof": frame.proof() if frame else None,
        "hanging": frame.hanging if frame else None,
        "hung_g": frame.hung_g if frame else None,
        "on": today,
    }
    return paper.pdf("paper/confirmation.html", context)
