from functools import partial

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from orders.order import price_explanations
from orders.order import querysets as order_querysets
from orders.prices.models import Price, PriceList
from production.frames.models import FrameSpecification
from studio import money
from studio.accounts.models import Unit
from studio.jobs.models import Job

# The line of a called-off job for what the studio keeps.
KEPT_LABEL = gettext_noop("Kept of what was paid: called off")


class Order(models.Model):
    """What a job costs, on the price list in force when it was priced."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="orders")
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="order")
    price_list = models.ForeignKey(PriceList, on_delete=models.PROTECT, related_name="+")
    # The frame's longest side by which backing and finish are priced; empty if not known yet.
    frame_mm = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    # The balance is zero; stored by `settle`, so that unsettled orders are a short list.
    settled = models.BooleanField(default=False)
    released_at = models.DateTimeField(null=True, blank=True)
    released_why = models.CharField("released unpaid, because", max_length=200, blank=True)

    objects = order_querysets.OrderQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(released_at=None) | ~Q(released_why=""), name="order_release_says_why"
            ),
        ]
        indexes = [
            models.Index(fields=["unit"], name="order_unsettled", condition=Q(settled=False))
        ]

    def __str__(self) -> str:
        return f"order of {self.job}"

    def get_absolute_url(self) -> str:
        return reverse("orders:order", args=[self.job.reference])

    @property
    def frame(self) -> FrameSpecification:
        """The job's frame specification, an empty one if nothing is decided. One query unless
        loaded.
        """
        return FrameSpecification.of(self.job)

    def price_of(self, kind: str) -> Price | None:
        """Return the price of the chosen "backing" or "finish", None if none is chosen."""
        chosen = getattr(self.frame, f"{kind}_id")
        prices = self.price_list.prices.all() if chosen else []
        return next((price for price in prices if price.option_id == chosen), None)


class OrderLine(models.Model):
    """One charge or (below zero) reduction of an order, in minor units."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    price = models.ForeignKey(
        Price, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # In the source language; a family reads `words`.
    label = models.CharField(max_length=120)
    quantity = models.PositiveSmallIntegerField(default=1)
    # Below zero for a reduction; minor units.
    unit_minor = models.IntegerField()
    # Facts that price_explanations words.
    price_explanations = models.JSONField(default=list, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="order_line_quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.label}"

    @property
    def words(self) -> str:
        """The label in the language of the reader. No query if `price` is loaded."""
        if self.price is None:
            return _(KEPT_LABEL) if self.label == KEPT_LABEL else self.label
        if self.price.kind == Price.Kind.BACKING:
            return _("Backing: %(name)s") % {"name": self.price.label}
        if self.price.kind == Price.Kind.FINISH:
            return _("Finish: %(name)s") % {"name": self.price.label}
        return self.label

    @property
    def amount_minor(self) -> int:
        return self.quantity * self.unit_minor

    @property
    def can_drop(self) -> bool:
        """Whether the line may be removed: not if it follows from the pieces or the look."""
        follows = (Price.Kind.CASTS, Price.Kind.BACKING, Price.Kind.FINISH)
        return self.price is None or self.price.kind not in follows

    @property
    def explanations(self) -> list[str]:
        """The sentences that explain how the price came about."""
        return price_explanations.sentences(
            self.price_explanations,
            format_money=partial(money.display, currency=self.order.unit.currency),
        )
