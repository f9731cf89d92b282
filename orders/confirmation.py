"""The order confirmed on paper: what is made, how it will look, drawn to scale, and what it costs."""

from datetime import datetime

from django.utils import timezone

from orders.models import Order
from orders.queries import order as order_queries
from orders.queries.order import FINISHED
from production.frames.reading import frame_of
from studio import paper


def confirmation_pdf(order: Order, now: datetime) -> bytes:
    """As the order stands now; about a dozen queries."""
    job, today = order.job, timezone.localdate(now)
    frame = frame_of(job, today)
    context = {
        "unit": job.unit,
        "job": job,
        "order": order,
        "pieces": [piece for piece in job.pieces.all() if not piece.left_off_at],
        "lines": list(order.lines.all()),
        "sums": order_queries.sums(order),
        "finished": job.stage in FINISHED,
        "proof": frame.proof() if frame else None,
        "hanging": frame.hanging if frame else None,
        "hung_g": frame.hung_g if frame else None,
        "on": today,
    }
    return paper.pdf("paper/confirmation.html", context)
