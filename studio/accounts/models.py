from typing import Any, ClassVar

from django.contrib.auth.base_user import BaseUserManager
from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from studio.accounts.trader import Trader
from studio.limbs import LIMB_ORDERS, Limb, format_limbs
from studio.roles import Role
from studio.versions import Versioned


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **extra: Any) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> "User":
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)

    def get_by_natural_key(self, username: str | None) -> "User":
        # People type their address with capitals on a tablet; stored addresses are lower case.
        return self.get(email=(username or "").lower())


class User(AbstractUser):
    """A person who logs in by e-mail address."""

    username = None  # type: ignore[assignment]
    email = models.EmailField("e-mail address", unique=True)
    name = models.CharField("your name", max_length=80)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    objects: ClassVar[UserManager] = UserManager()  # type: ignore[assignment]

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        return str(self)


# Smaller, neither the code nor the text beside it can be read.
LABEL_WIDTH_MM = [
    MinValueValidator(40, "A label needs 40 mm, for the code and the words beside it."),
    MaxValueValidator(150, "A roll label is at most 150 mm wide."),
]

LABEL_HEIGHT_MM = [
    MinValueValidator(25, "A label needs 25 mm, for a code that can be read."),
    MaxValueValidator(150, "A roll label is at most 150 mm high."),
]


class Unit(Trader, Versioned):
    """A studio of the franchise: its name and address on papers, and the settings of its work."""

    name = models.CharField("name of the studio", max_length=80)
    trader_name = models.CharField(
        "trader's own name", max_length=120, help_text="As the law wants it on an invoice."
    )
    address = models.TextField("business address")
    postcode = models.CharField(max_length=12)
    country = models.CharField(max_length=2, default="GB")
    currency = models.CharField(max_length=3, default="GBP")
    time_zone = models.CharField(max_length=40, default="Europe/London")
    phone = models.CharField(max_length=30)
    email = models.EmailField("e-mail address")

    earliest_weeks = models.PositiveSmallIntegerField(
        "no sitting before, without a reason, weeks", default=12
    )
    best_months = models.PositiveSmallIntegerField("best age, months", default=4)
    sitting_minutes = models.PositiveSmallIntegerField("length of a sitting, minutes", default=45)
    promise_days = models.PositiveSmallIntegerField("promised after the sitting, days", default=14)
    clay_rest_hours = models.PositiveSmallIntegerField(
        "pour within, hours",
        default=24,
        help_text="Clay shrinks as it dries: pour while the print is still plastic.",
    )
    demould_hours = models.PositiveSmallIntegerField("demould after, hours", default=2)
    drying_days = models.PositiveSmallIntegerField("usual drying, days", default=7)
    consistency = models.PositiveSmallIntegerField(
        "water to 100 of plaster, by weight",
        default=70,
        help_text="From the maker's data sheet for your plaster.",
    )
    rack_places = models.PositiveSmallIntegerField("places on the drying rack", default=24)
    label_width_mm = models.PositiveSmallIntegerField(
        "width of a roll label, mm", default=62, validators=LABEL_WIDTH_MM
    )
    label_height_mm = models.PositiveSmallIntegerField(
        "height of a roll label, mm", default=29, validators=LABEL_HEIGHT_MM
    )
    limb_order = models.CharField(
        "order of the limbs",
        max_length=60,
        default=LIMB_ORDERS[0],
        help_text="The order in which you take them at a sitting.",
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(limb_order__in=LIMB_ORDERS), name="unit_limb_order_known"
            ),
            models.CheckConstraint(
                condition=Q(consistency__gte=20, consistency__lte=120), name="unit_consistency_sane"
            ),
            models.CheckConstraint(
                condition=Q(deposit_percent__lte=100), name="unit_deposit_at_most_all"
            ),
            models.CheckConstraint(
                condition=Q(label_width_mm__gte=40, label_width_mm__lte=150)
                & Q(label_height_mm__gte=25, label_height_mm__lte=150),
                name="unit_label_fits_a_printer",
            ),
            models.CheckConstraint(
                condition=Q(vat_registered_on=None) | ~Q(vat_number=""),
                name="unit_vat_date_needs_number",
            ),
            models.CheckConstraint(
                condition=Q(vat_left_on=None) | Q(vat_left_on__gt=F("vat_registered_on")),
                name="unit_vat_left_after_it_came",
            ),
            models.CheckConstraint(condition=~Q(tax_name=""), name="unit_tax_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def limbs(self) -> list[Limb]:
        """Limbs in the order in which this studio takes their prints."""
        return [Limb(value) for value in self.limb_order.split(",")]

    @property
    def limb_words(self) -> str:
        return format_limbs(self.limb_order)


class Membership(models.Model):
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "unit"], name="membership_once"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="membership_role_known"),
        ]

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display().lower()} of {self.unit}"
