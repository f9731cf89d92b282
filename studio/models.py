"""What every app shares: the unit and its people, families and children, the job and its pieces."""

import uuid
from collections.abc import Mapping
from itertools import permutations
from typing import Any, ClassVar

from django.contrib.auth.base_user import BaseUserManager
from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse
from django.utils import timezone

from studio import event_words, queries, references
from studio.stages import CLOSED, Stage
from studio.trader import Trader
from studio.units import join_names


class Role(models.TextChoices):
    OWNER = "owner", "Owner"
    HELPER = "helper", "Helper"
    OFFICE = "office", "Network office"


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


class Limb(models.TextChoices):
    LEFT_HAND = "left_hand", "left hand"
    RIGHT_HAND = "right_hand", "right hand"
    LEFT_FOOT = "left_foot", "left foot"
    RIGHT_FOOT = "right_foot", "right foot"

    @property
    def kind(self) -> str:
        """ "hand" or "foot"."""
        return self.value.rsplit("_", 1)[1]


# Every order in which four limbs can be taken: what `Unit.limb_order` may hold.
LIMB_ORDERS = [",".join(limbs) for limbs in permutations(Limb.values)]


def say_limbs(order: str) -> str:
    """An order of limbs in words: "left hand, right hand, …"."""
    return ", ".join(Limb(value).label for value in order.split(","))


class Versioned(models.Model):
    """A row that two people may edit: its version tells the second one."""

    version = models.PositiveIntegerField(default=1, editable=False)

    class Meta:
        abstract = True


# Less, and neither the code nor the words beside it can be read.
LABEL_WIDTH_MM = [
    MinValueValidator(40, "A label needs 40 mm, for the code and the words beside it."),
    MaxValueValidator(150, "A roll label is at most 150 mm wide."),
]
LABEL_HEIGHT_MM = [
    MinValueValidator(25, "A label needs 25 mm, for a code that can be read."),
    MaxValueValidator(150, "A roll label is at most 150 mm high."),
]


class Unit(Trader, Versioned):
    """One studio of the franchise: its name on paper and the habits of its bench."""

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

    earliest_weeks = models.PositiveSmallIntegerField("no sitting before, weeks", default=12)
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
        """The limbs in the order in which this studio takes them."""
        return [Limb(value) for value in self.limb_order.split(",")]

    @property
    def limb_words(self) -> str:
        return say_limbs(self.limb_order)


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


class Family(Versioned):
    """The people who bring the children: one address, one contact."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="families")
    name = models.CharField("family name", max_length=80)
    contact_name = models.CharField("who to speak to", max_length=80)
    email = models.EmailField("e-mail address", blank=True)
    phone = models.CharField(max_length=30, blank=True)
    address = models.TextField(blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    note = models.TextField(blank=True, help_text="Parking, the dog, nap times.")
    added_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = queries.FamilyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "families"
        indexes = [models.Index("unit", Lower("name"), "id", name="family_by_name")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("studio:family", args=[self.pk])


class Child(Versioned):
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="children")
    first_name = models.CharField(max_length=60)
    born_on = models.DateField("date of birth")
    due_on = models.DateField(
        "due date, if born early",
        null=True,
        blank=True,
        help_text="Only if the baby came before 37 weeks: the size is then judged by the due date.",
    )

    objects = queries.ChildQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "children"
        ordering = ["born_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(due_on=None) | Q(due_on__gt=F("born_on")),
                name="child_due_after_birth",
            ),
        ]

    def __str__(self) -> str:
        return self.first_name


class Job(models.Model):
    """One family's order for one or more pieces; bookings, production and orders all hang on it."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="jobs")
    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="jobs")
    reference = models.CharField(max_length=8, unique=True)
    # Written by `studio.stages.move` alone.
    stage = models.CharField(max_length=12, choices=Stage.choices, default=Stage.BOOKED)
    stage_since = models.DateTimeField(default=timezone.now)
    opened_at = models.DateTimeField(default=timezone.now)
    promised_on = models.DateField(null=True, blank=True)
    split_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="split_into"
    )

    objects = queries.JobQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(stage__in=Stage.values), name="job_stage_known"),
        ]
        indexes = [
            # What is in hand stays a few dozen rows, however long the books grow. Over all stages:
            # SQLite takes no partial index for a list of stages that comes as parameters.
            models.Index(fields=["unit", "stage", "promised_on"], name="job_by_stage"),
        ]

    def __str__(self) -> str:
        return self.spoken_reference

    def get_absolute_url(self) -> str:
        return reverse("studio:job", args=[self.reference])

    @property
    def spoken_reference(self) -> str:
        return references.display(self.reference)

    @property
    def is_closed(self) -> bool:
        return self.stage in CLOSED

    @property
    def stage_words(self) -> str:
        return Stage(self.stage).label

    @property
    def first_names(self) -> str:
        """The children on the job, "Ada and Tom"; reads the prefetched pieces if they are there."""
        return join_names(p.child.first_name for p in self.pieces.all() if not p.left_off_at)


class Piece(models.Model):
    """One limb of one child: one impression, one cast, one place in the frame."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="pieces")
    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="pieces")
    limb = models.CharField(max_length=10, choices=Limb.choices)
    left_off_at = models.DateTimeField(null=True, blank=True)
    left_off_why = models.CharField(max_length=200, blank=True)

    objects = queries.PieceQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "child", "limb"],
                condition=Q(left_off_at=None),
                name="piece_once_on_a_job",
            ),
            models.CheckConstraint(condition=Q(limb__in=Limb.values), name="piece_limb_known"),
            models.CheckConstraint(
                condition=Q(left_off_at=None) | ~Q(left_off_why=""), name="piece_left_off_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.child.first_name}, {self.get_limb_display()}"


class JobEvent(models.Model):
    """One thing that happened to a job. Rows are only ever added."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="events")
    what = models.CharField(max_length=40, help_text="“move”, or the name of the action.")
    at = models.DateTimeField()
    # Nobody: the family itself, by its private link.
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    from_stage = models.CharField(max_length=12, choices=Stage.choices, blank=True)
    to_stage = models.CharField(max_length=12, choices=Stage.choices)
    subject = models.ForeignKey(
        Piece,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="events",
        help_text="The piece that it is about; none: the whole job.",
    )
    facts = models.JSONField(
        default=dict, blank=True, help_text="By the kind's class in an event_words module."
    )
    why = models.TextField(blank=True, help_text="What a person typed, and nothing else.")
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.EventQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "key"], name="event_key_once"),
        ]
        indexes = [models.Index(fields=["job", "at"], name="event_job_at")]

    def __str__(self) -> str:
        return f"{self.job}: {self.what} {self.at:%Y-%m-%d %H:%M}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A job's history is only ever added to.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("A job's history is only ever added to.")

    @property
    def heading(self) -> str:
        """What happened, as the owner reads it: "Casting → Drying", "Weighed"."""
        if self.what == "move":
            return f"{self.get_from_stage_display()} → {self.get_to_stage_display()}"
        return event_words.heading(self.what)

    def details(self, names: Mapping[int, str]) -> str:
        """The piece, the facts and the reason in words; `names`: the job's pieces by their numbers."""
        return event_words.details(self.what, self.subject_id, self.facts, self.why, names)


from studio.tablet_models import TabletEntry  # noqa: E402 - they name the models above
from studio.work_models import Work  # noqa: E402

__all__ = ["TabletEntry", "Work"]
