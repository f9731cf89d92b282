"""Models of the stores: materials, lots, stock movements and purchases."""

import uuid
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from production.stock import quantities, querysets
from studio.accounts.models import Unit, User
from studio.versions import Versioned


class Material(Versioned):
    """A material in one base unit: how it is used up and how it is bought."""

    class Kind(models.TextChoices):
        CLAY = "clay", "Clay"
        PLASTER = "plaster", "Plaster"
        MOULDING = "moulding", "Mouldings"
        BOARD = "board", "Boards and backings"
        GLAZING = "glazing", "Glazing"
        FIXING = "fixing", "Fixings"
        FINISH = "finish", "Wax and liming"
        PACKAGING = "packaging", "Packaging"

    class Measure(models.TextChoices):
        GRAM = "g", "grams"
        MILLIMETRE = "mm", "millimetres"
        SQUARE_MILLIMETRE = "mm2", "square millimetres"
        PIECE = "piece", "pieces"

    class UsedAt(models.TextChoices):
        POUR = "pour", "each pour, as weighed"
        PRINT = "print", "each print taken"
        FRAME = "frame", "each frame begun"
        GLAZED = "glazed", "each frame behind glass"
        HOME = "home", "each job that goes home"
        HAND = "hand", "written down by hand"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="materials")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    name = models.CharField(max_length=80)
    plaster = models.ForeignKey(
        "production.Plaster",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="materials",
        help_text="Which of your plasters a pour of it is; none: of any.",
    )
    measure = models.CharField("counted in", max_length=5, choices=Measure.choices)
    used_at = models.CharField("used up by", max_length=6, choices=UsedAt.choices)
    used_each = models.PositiveBigIntegerField(
        "how much each time", default=0, help_text="A pour takes what was weighed."
    )
    returns_percent = models.PositiveSmallIntegerField(
        "comes back, percent", default=0, help_text="Clay goes back into its bin after demoulding."
    )
    most_uses = models.PositiveSmallIntegerField("used at most, times", null=True, blank=True)
    keep_days = models.PositiveSmallIntegerField("keeps, days", null=True, blank=True)
    pack = models.PositiveBigIntegerField("size of a pack")
    pack_words = models.CharField("a pack is called", max_length=40, default="pack")
    supplier = models.CharField(max_length=120, blank=True)
    supplier_code = models.CharField("their order number", max_length=40, blank=True)
    lead_days = models.PositiveSmallIntegerField("days from order to delivery", default=5)
    service_percent = models.PositiveSmallIntegerField(
        "never short, percent",
        default=98,
        help_text="In how many of a hundred deliveries it may not run out before the van comes.",
    )
    cover_days = models.PositiveSmallIntegerField("an order lasts, days", default=28)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)
    # Worked out by `stores.outlooks` whenever stock, purchases or the work ahead change.
    order_on = models.DateField(null=True, editable=False)
    order_packs = models.PositiveIntegerField(default=0, editable=False)
    runs_out_on = models.DateField(null=True, editable=False)
    # It runs out before anything ordered now could come.
    is_short = models.BooleanField(default=False, editable=False)
    # More was used than the books held, and nobody has counted since.
    is_uncounted = models.BooleanField(default=False, editable=False)
    # The day for which these were worked out; None once something has changed.
    outlook_on = models.DateField(null=True, editable=False)

    objects = querysets.MaterialQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "name"],
                condition=Q(retired_at=None),
                name="material_name_once",
                violation_error_message="A material of this name stands in your stores already.",
            ),
            models.UniqueConstraint(
                fields=["plaster"],
                condition=Q(used_at="pour", retired_at=None),
                name="material_one_a_plaster",
                violation_error_message="Another material is taken for pours of this plaster.",
            ),
            models.UniqueConstraint(
                fields=["unit"],
                condition=Q(used_at="pour", plaster=None, retired_at=None),
                name="material_one_for_any_pour",
                violation_error_message="Another material is taken for pours of any plaster.",
            ),
            models.CheckConstraint(
                condition=~Q(used_at="pour") | Q(kind="plaster", measure="g"),
                name="material_pours_are_plaster_in_grams",
            ),
            models.CheckConstraint(
                condition=Q(plaster=None) | Q(used_at="pour"),
                name="material_of_a_plaster_is_poured",
            ),
            models.CheckConstraint(
                condition=Q(used_at__in=("pour", "hand")) | Q(used_each__gt=0),
                name="material_used_each_is_something",
            ),
            models.CheckConstraint(condition=Q(pack__gt=0), name="material_pack_is_something"),
            models.CheckConstraint(
                condition=Q(returns_percent=0) | Q(returns_percent__lte=100, used_at="print"),
                name="material_only_prints_come_back",
            ),
            models.CheckConstraint(
                condition=Q(service_percent__gte=50, service_percent__lte=99),
                name="material_service_sane",
            ),
            models.CheckConstraint(
                condition=Q(lead_days__lte=365, cover_days__gte=1, cover_days__lte=365),
                name="material_days_sane",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("production:material", args=[self.pk])

    def say(self, quantity: int) -> str:
        """Format a quantity of it for display: "12.50 kg"."""
        return quantities.display(quantity, self.measure)

    def packs_label(self, packs: int) -> str:
        """Format an order of packs: "2 × sack, 50.00 kg"."""
        return f"{packs} × {self.pack_words}, {self.say(packs * self.pack)}"

    @property
    def pack_label(self) -> str:
        """Format one pack: "bag of 25.00 kg"."""
        return f"{self.pack_words} of {self.say(self.pack)}"


class Purchase(models.Model):
    """A purchase of one material, on its way or received."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="purchases")
    quantity = models.PositiveBigIntegerField()
    arrived = models.PositiveBigIntegerField(default=0)
    # What it is to cost; the owner's knowledge, so that a helper may receive it.
    cost_minor = models.PositiveBigIntegerField()
    ordered_on = models.DateField()
    expected_on = models.DateField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.PurchaseQuerySet.as_manager()

    class Meta:
        ordering = ["expected_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["material", "key"], name="purchase_key_once"),
            models.CheckConstraint(condition=Q(quantity__gt=0), name="purchase_of_something"),
            models.CheckConstraint(
                condition=Q(expected_on__gte=F("ordered_on")), name="purchase_comes_after_ordering"
            ),
        ]
        indexes = [
            models.Index(
                fields=["material"], name="purchase_on_its_way", condition=Q(closed_at=None)
            )
        ]

    def __str__(self) -> str:
        return f"{self.material}, ordered {self.ordered_on}"

    @property
    def to_come(self) -> int:
        """Quantity still to come, in base units."""
        return 0 if self.closed_at else max(self.quantity - self.arrived, 0)


class Lot(models.Model):
    """One delivery of a material: cost, age, and what is left of it.

    `left` and `left_minor` are the sums of its movements, updated with each of them under the material's lock;
    the database refuses negative ones.
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    purchase = models.ForeignKey(
        Purchase, on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    label = models.CharField("batch, or where it stands", max_length=60, blank=True)
    quantity = models.PositiveBigIntegerField()
    cost_minor = models.PositiveBigIntegerField()
    received_on = models.DateField()
    best_before = models.DateField(null=True, blank=True)
    left = models.BigIntegerField(default=0)
    left_minor = models.BigIntegerField(default=0)

    objects = querysets.LotQuerySet.as_manager()

    class Meta:
        ordering = ["received_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="lot_of_something"),
            models.CheckConstraint(
                condition=Q(left__gte=0, left_minor__gte=0), name="lot_never_below_nothing"
            ),
            models.CheckConstraint(
                condition=Q(left__gt=0) | Q(left_minor=0), name="lot_empty_ties_up_nothing"
            ),
        ]
        indexes = [
            models.Index(
                fields=["material", "received_on"],
                name="lot_with_some_left",
                condition=Q(left__gt=0),
            )
        ]

    def __str__(self) -> str:
        return f"{self.material} of {self.received_on}"

    @property
    def unit(self) -> Unit:
        return self.material.unit


class StockMove(models.Model):
    """One stock movement: quantity, value and reason. Never changed or deleted.

    `quantity` in the material's base unit, positive for what comes in.
    """

    class What(models.TextChoices):
        RECEIVED = "received", "received"
        USED = "used", "used"
        RETURNED = "returned", "back from the bench"
        COUNTED = "counted", "counted"
        FOUND = "found", "used beyond the books"
        ADJUSTED = "adjusted", "adjusted"
        SCRAPPED = "scrapped", "thrown away"
        SENT_BACK = "sent_back", "sent back"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="stock_moves")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="moves")
    what = models.CharField(max_length=10, choices=What.choices)
    quantity = models.BigIntegerField()
    value_minor = models.BigIntegerField()
    job = models.ForeignKey(
        "studio.Job", on_delete=models.PROTECT, null=True, blank=True, related_name="stock_moves"
    )
    pour = models.ForeignKey(
        "production.Pour",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_moves",
    )
    clay_print = models.ForeignKey(
        "bookings.ClayPrint",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="stock_moves",
    )
    why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.StockMoveQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="stock_move_key_once"),
            models.CheckConstraint(
                condition=Q(
                    what__in=("received", "returned", "found"), quantity__gt=0, value_minor__gte=0
                )
                | Q(what__in=("used", "scrapped", "sent_back"), quantity__lt=0, value_minor__lte=0)
                | Q(what__in=("counted", "adjusted")),
                name="stock_move_goes_its_way",
            ),
            models.CheckConstraint(
                condition=~Q(what__in=("adjusted", "scrapped", "sent_back")) | ~Q(why=""),
                name="stock_move_says_why",
            ),
        ]
        indexes = [
            models.Index(fields=["lot", "at"], name="stock_move_of_lot"),
            models.Index(fields=["unit", "what", "at"], name="stock_move_use"),
        ]

    def __str__(self) -> str:
        return f"{self.lot.material}: {self.what} {self.lot.material.say(self.quantity)}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("The ledger of the stores is only ever added to.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("The ledger of the stores is only ever added to.")
