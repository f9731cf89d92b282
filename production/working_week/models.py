import uuid
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from studio.accounts.models import Unit, User
from studio.versions import Versioned

DAY_MINUTES = [MaxValueValidator(16 * 60, "A day at the bench is at most 960 minutes.")]

AT_LEAST_ONE = [MinValueValidator(1, "It is at least 1.")]

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def _day(default: int, name: str) -> models.PositiveSmallIntegerField:  # type: ignore[type-arg]
    return models.PositiveSmallIntegerField(
        f"{name}, minutes", default=default, validators=DAY_MINUTES
    )


class WorkingWeek(Versioned):
    """What a unit can do at its bench: minutes a day, capacities and times; without a row the defaults."""

    class Division(models.TextChoices):
        ENGLAND_AND_WALES = "england-and-wales", "England and Wales"
        SCOTLAND = "scotland", "Scotland"
        NORTHERN_IRELAND = "northern-ireland", "Northern Ireland"
        NONE = "none", "no bank holidays kept"

    unit = models.OneToOneField(Unit, on_delete=models.PROTECT, related_name="working_week")
    monday = _day(240, "Monday")
    tuesday = _day(240, "Tuesday")
    wednesday = _day(240, "Wednesday")
    thursday = _day(240, "Thursday")
    friday = _day(240, "Friday")
    saturday = _day(0, "Saturday")
    sunday = _day(0, "Sunday")
    division = models.CharField(
        "bank holidays of",
        max_length=20,
        choices=Division.choices,
        default=Division.ENGLAND_AND_WALES,
        help_text="You are off on them.",
    )
    moulds_per_pour = models.PositiveSmallIntegerField(
        "prints filled from one bucket, at most", default=6, validators=AT_LEAST_ONE
    )
    pours_per_day = models.PositiveSmallIntegerField(
        "buckets a day, at most", default=3, validators=AT_LEAST_ONE
    )
    pour_minutes = models.PositiveSmallIntegerField(
        "a bucket takes, minutes", default=25, help_text="Weighing, mixing, pouring, washing up."
    )
    demould_minutes = models.PositiveSmallIntegerField(
        "taking a cast out and trimming it, minutes", default=10
    )
    frame_minutes = models.PositiveSmallIntegerField("a frame takes, minutes", default=40)
    piece_minutes = models.PositiveSmallIntegerField(
        "and for each piece in it, minutes", default=10
    )
    framing_minutes_per_day = models.PositiveSmallIntegerField(
        "framing a day, at most, minutes", default=180, validators=[*DAY_MINUTES, *AT_LEAST_ONE]
    )
    setup_minutes = models.PositiveSmallIntegerField(
        "setting up for a finish and backing, minutes",
        default=15,
        help_text="Jobs of the same finish and backing on one day share it.",
    )
    cure_days = models.PositiveSmallIntegerField(
        "a finish cures, nights", default=1, validators=[MaxValueValidator(60)]
    )
    courier_days = models.CharField(
        "the courier comes on",
        max_length=60,
        blank=True,
        default="monday,tuesday,wednesday,thursday,friday",
    )

    DAYS: ClassVar[tuple[str, ...]] = WEEKDAYS

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(moulds_per_pour__gte=1, pours_per_day__gte=1),
                name="working_week_can_pour",
            ),
            models.CheckConstraint(
                condition=Q(framing_minutes_per_day__gt=F("setup_minutes")),
                name="working_week_can_frame",
            ),
        ]

    def __str__(self) -> str:
        return f"working week of {self.unit}"

    @property
    def minutes(self) -> tuple[int, int, int, int, int, int, int]:
        """Minutes of each day, Monday first."""
        return (
            self.monday,
            self.tuesday,
            self.wednesday,
            self.thursday,
            self.friday,
            self.saturday,
            self.sunday,
        )

    @property
    def courier_weekdays(self) -> frozenset[int]:
        """Weekdays of the courier; 0 is Monday."""
        named = self.courier_days.split(",") if self.courier_days else []
        return frozenset(WEEKDAYS.index(name) for name in named)


class OtherDays(models.Model):
    """Days that differ from the working week: off, or with other minutes (e.g. a bank holiday worked)."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="other_days")
    first_on = models.DateField("from")
    last_on = models.DateField("to")
    minutes = models.PositiveSmallIntegerField(
        "minutes at the bench",
        default=0,
        validators=DAY_MINUTES,
        help_text="0 is off. More than 0 works on a bank holiday or a weekend too.",
    )
    why = models.CharField("what for", max_length=80, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    key = models.UUIDField(default=uuid.uuid4)
    # Taken back: it stays in the books and counts no more.
    dropped_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["first_on", "pk"]
        verbose_name_plural = "other days"
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="other_days_key_once"),
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")), name="other_days_in_order"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first_on:%Y-%m-%d} to {self.last_on:%Y-%m-%d}: {self.minutes} min"
