"""Prices, orders, invoices, payments and the private link of a family.

Money is an integer of the currency's minor units. Prices include VAT where there is any.
"""

import uuid
from functools import partial
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse

from orders import how, pricing, querysets
from production.frames.models import FrameOption, FrameSpecification
from studio import money
from studio.models import Job, Unit, User


class PriceList(models.Model):
    """The unit's prices from a day on; the newest that has begun is in force."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="price_lists")
    valid_from = models.DateField("in force from")

    objects = querysets.PriceListQuerySet.as_manager()

    class Meta:
        ordering = ["-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "valid_from"], name="price_list_once_a_day"),
        ]

    def __str__(self) -> str:
        return f"prices from {self.valid_from}"


class Price(models.Model):
    class Kind(models.TextChoices):
        CASTS = "casts", "casts, framed"
        BACKING = "backing", "backing"
        FINISH = "finish", "oak finish"
        EXTRA = "extra", "extra"
        COPY = "copy", "second cast from the same mould"
        DELIVERY = "delivery", "delivery"
        DISCOUNT = "discount", "discount"

    class Given(models.TextChoices):
        BY_HAND = "", "when I say so"
        RETURNING = "returning", "to a family that has had casts before"
        FAIR = "fair", "to a family that asked at a fair"

    price_list = models.ForeignKey(PriceList, on_delete=models.PROTECT, related_name="prices")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    label = models.CharField("what it is", max_length=80)
    # What a backing or a finish is the price of.
    option = models.ForeignKey(
        FrameOption, on_delete=models.PROTECT, null=True, blank=True, related_name="prices"
    )
    amount_minor = models.PositiveIntegerField("price")
    pieces = models.PositiveSmallIntegerField(
        "pieces", default=0, help_text="For casts: 1 a single, 2 a pair, 4 a set."
    )
    one_child = models.BooleanField("all of one child", default=False)
    # Of a discount alone: a part of the price instead of an amount, and who has it without asking.
    percent = models.DecimalField(
        "percent off", max_digits=5, decimal_places=2, null=True, blank=True
    )
    given = models.CharField("given", max_length=10, choices=Given.choices, blank=True)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["price_list", "kind", "label"], name="price_label_once"
            ),
            models.CheckConstraint(
                condition=Q(percent=None)
                | Q(kind="discount", amount_minor=0, percent__gt=0, percent__lte=100),
                name="price_percent_of_a_discount",
            ),
            models.CheckConstraint(
                condition=Q(given="") | Q(kind="discount"), name="price_given_is_a_discount"
            ),
            models.CheckConstraint(
                condition=Q(kind__in=("backing", "finish"), option__isnull=False)
                | (~Q(kind__in=("backing", "finish")) & Q(option=None)),
                name="price_of_a_look_names_its_option",
            ),
            models.CheckConstraint(
                condition=(Q(kind="casts") & Q(pieces__gt=0)) | (~Q(kind="casts") & Q(pieces=0)),
                name="price_pieces_for_casts_only",
            ),
        ]

    def __str__(self) -> str:
        return self.label

    def bands_of(self) -> list[pricing.Band]:
        """Its steps by size or distance; reads the prefetched rows if they are there."""
        return [pricing.Band(row.up_to, row.amount_minor) for row in self.bands.all()]

    def at_size(self, size: int | None) -> int:
        """What it costs at a size (mm; of a delivery km), in minor units.

        Raises ValueError with a sentence beyond the last of its steps.
        """
        return pricing.in_bands(self.amount_minor, self.bands_of(), size)

    def shown_at(self, size: int | None) -> int:
        """As `at_size`, for a list to choose from: beyond the last step it shows the plain price,
        and whoever chooses it is told.
        """
        try:
            return self.at_size(size)
        except ValueError:
            return self.amount_minor


class PriceBand(models.Model):
    """A step of a price: up to so many mm of the frame's longest side, or km of the way."""

    price = models.ForeignKey(Price, on_delete=models.CASCADE, related_name="bands")
    up_to = models.PositiveIntegerField("up to")
    amount_minor = models.PositiveIntegerField("price")

    class Meta:
        ordering = ["up_to"]
        constraints = [
            models.UniqueConstraint(fields=["price", "up_to"], name="price_band_once"),
            models.CheckConstraint(condition=Q(up_to__gt=0), name="price_band_above_zero"),
        ]

    def __str__(self) -> str:
        return f"up to {self.up_to}"


class VatRate(models.Model):
    """The rate that a registered trader of this unit charges from a day on; law changes it."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="vat_rates")
    valid_from = models.DateField()
    percent = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["-valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "valid_from"], name="vat_rate_once_a_day"),
            models.CheckConstraint(
                condition=Q(percent__gte=0, percent__lte=100), name="vat_rate_percent"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.percent} % from {self.valid_from}"


class Order(models.Model):
    """What a job costs, on the price list that was in force when it was priced."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="orders")
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="order")
    price_list = models.ForeignKey(PriceList, on_delete=models.PROTECT, related_name="+")
    # The longest side of the frame by which backing and finish were priced last; empty: by none yet.
    frame_mm = models.PositiveSmallIntegerField(null=True, blank=True, editable=False)
    # Paid in full or written off; kept by the actions so that what is owed stays a short list.
    settled = models.BooleanField(default=False)
    released_at = models.DateTimeField(null=True, blank=True)
    released_why = models.CharField("released unpaid, because", max_length=200, blank=True)

    objects = querysets.OrderQuerySet.as_manager()

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
        """What is decided about the frame, an empty one where nothing is. One query where not loaded."""
        return FrameSpecification.of(self.job)

    def price_of(self, kind: str) -> Price | None:
        """The price of the chosen "backing" or "finish"; None where none is chosen. Reads the list's prices."""
        chosen = getattr(self.frame, f"{kind}_id")
        prices = self.price_list.prices.all() if chosen else []
        return next((price for price in prices if price.option_id == chosen), None)


class OrderLine(models.Model):
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    price = models.ForeignKey(
        Price, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    label = models.CharField(max_length=120)
    quantity = models.PositiveSmallIntegerField(default=1)
    # Below zero for a reduction.
    unit_minor = models.IntegerField()
    # How this price came about when the line was laid: facts of orders.how.
    how = models.JSONField(default=list, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="order_line_quantity"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} × {self.label}"

    @property
    def amount_minor(self) -> int:
        return self.quantity * self.unit_minor

    @property
    def can_drop(self) -> bool:
        """All but what follows from the pieces and the look."""
        follows = (Price.Kind.CASTS, Price.Kind.BACKING, Price.Kind.FINISH)
        return self.price is None or self.price.kind not in follows

    @property
    def how_lines(self) -> list[str]:
        """The sentences that say how the price came about."""
        return how.words(self.how, say=partial(money.display, currency=self.order.unit.currency))


class NumberSeries(models.Model):
    """The last number used of one kind of paper; its locked row keeps the numbers free of gaps."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="number_series")
    prefix = models.CharField(max_length=8)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "number series"
        constraints = [
            models.UniqueConstraint(fields=["unit", "prefix"], name="series_once_a_unit"),
        ]

    def __str__(self) -> str:
        return f"{self.prefix}{self.last}"


class Invoice(models.Model):
    """An issued paper: written once, never edited. A correction is a credit note of its own."""

    class Kind(models.TextChoices):
        INVOICE = "invoice", "Invoice"
        CREDIT = "credit", "Credit note"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="invoices")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="invoices")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    number = models.CharField(max_length=20)
    issued_on = models.DateField()
    supplied_on = models.DateField("date of supply")
    due_on = models.DateField("to be paid by", null=True, blank=True)
    credits = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="credited_by"
    )
    # Of a credit note for a part: the invoice that stands, less by it.
    reduces = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reduced_by"
    )
    why = models.CharField(max_length=200, blank=True)
    # Below zero for a credit note.
    total_minor = models.IntegerField()
    vat_minor = models.IntegerField(default=0)
    # Everything the paper says, as it stood when it was issued.
    content = models.JSONField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.InvoiceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "number"], name="invoice_number_once"),
            models.UniqueConstraint(fields=["unit", "key"], name="invoice_key_once"),
            models.CheckConstraint(
                condition=Q(kind="invoice", credits=None, reduces=None)
                | (Q(kind="credit", credits__isnull=False, reduces=None) & ~Q(why=""))
                | (Q(kind="credit", credits=None, reduces__isnull=False) & ~Q(why="")),
                name="credit_note_names_its_invoice_and_why",
            ),
        ]
        # With the sums: what twelve months came to is read without the rows.
        indexes = [
            models.Index(
                fields=["unit", "-issued_on", "total_minor", "vat_minor"], name="invoice_newest"
            )
        ]

    def __str__(self) -> str:
        return self.number

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("An issued invoice is never edited: issue a credit note.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("An issued invoice is never deleted: issue a credit note.")

    @property
    def job(self) -> Job:
        return self.order.job


class Payment(models.Model):
    """Money that came in, or (below zero) went back. Never edited: reversed."""

    class Method(models.TextChoices):
        CASH = "cash", "cash"
        CARD = "card", "card"
        TRANSFER = "transfer", "bank transfer"
        VOUCHER = "voucher", "voucher"

    # What a person hands over; a voucher was paid for when it was sold.
    MONEY = [Method.CASH, Method.CARD, Method.TRANSFER]

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="payments")
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="payments")
    amount_minor = models.IntegerField("amount")
    method = models.CharField("how", max_length=10, choices=Method.choices)
    received_on = models.DateField("when")
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    voucher = models.ForeignKey(
        "orders.Voucher", on_delete=models.PROTECT, null=True, blank=True, related_name="payments"
    )
    # By a voucher that was taxed when it was sold: no further supply, so the invoice is less by it.
    taxed_before = models.BooleanField(default=False)
    why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.PaymentQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "key"], name="payment_key_once"),
            models.CheckConstraint(
                condition=~Q(amount_minor=0) & (Q(amount_minor__gt=0) | ~Q(why="")),
                name="payment_back_says_why",
            ),
            models.CheckConstraint(
                condition=(Q(method="voucher") & Q(voucher__isnull=False))
                | (~Q(method="voucher") & Q(voucher=None)),
                name="payment_by_voucher_names_it",
            ),
            models.CheckConstraint(
                condition=Q(taxed_before=False) | Q(method="voucher"),
                name="payment_taxed_before_is_by_voucher",
            ),
        ]
        indexes = [models.Index(fields=["unit", "-received_on"], name="payment_newest")]

    def __str__(self) -> str:
        return f"{self.amount_minor} {self.get_method_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A payment in the books is never edited: reverse it.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A payment in the books is never deleted: reverse it.")

    @property
    def job(self) -> Job:
        return self.order.job


class ParentLink(models.Model):
    """A private address that shows one job to its family. Only the token's digest is kept."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="parent_links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = querysets.ParentLinkQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"link to {self.job}"


class LinkMiss(models.Model):
    """Failed tries of private links from one address in one minute: what the throttle counts."""

    came_from = models.CharField(max_length=64)
    minute = models.DateTimeField()
    tries = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "link misses"
        constraints = [
            models.UniqueConstraint(fields=["came_from", "minute"], name="link_miss_once_a_minute"),
        ]

    def __str__(self) -> str:
        return f"{self.tries} at {self.minute:%Y-%m-%d %H:%M}"
