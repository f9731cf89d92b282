from django.db import models
from django.db.models import Q

from orders.prices import pricing, querysets
from production.frames.models import FrameOption
from studio.accounts.models import Unit


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
    """A price of a list: casts, backing, finish, extra, second cast, delivery or discount; minor
    units.
    """

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
    # The frame option of a backing or finish.
    option = models.ForeignKey(
        FrameOption, on_delete=models.PROTECT, null=True, blank=True, related_name="prices"
    )
    amount_minor = models.PositiveIntegerField("price")
    pieces = models.PositiveSmallIntegerField(
        "pieces", default=0, help_text="For casts: 1 a single, 2 a pair, 4 a set."
    )
    one_child = models.BooleanField("all of one child", default=False)
    # For discounts only: a percentage instead of an amount, and who gets it automatically.
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
        """Return the bands by size or distance. One query unless prefetched."""
        return [pricing.Band(row.up_to, row.amount_minor) for row in self.bands.all()]

    def at_size(self, size: int | None) -> int:
        """Return the price at a size (mm, or km of a delivery), in minor units.

        Raises ValueError with a sentence beyond the last band.
        """
        return pricing.in_bands(self.amount_minor, self.bands_of(), size)

    def shown_at(self, size: int | None) -> int:
        """Return the price to show in a choice, like `at_size`; beyond the last band the plain
        price.
        """
        try:
            return self.at_size(size)
        except ValueError:
            return self.amount_minor


class PriceBand(models.Model):
    """A band of a price: up to a frame's longest side in mm, or a distance in km."""

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
    """The VAT rate of a registered unit from a day on."""

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
