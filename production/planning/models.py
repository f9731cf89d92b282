"""The rows of the plan: how a unit works, days that are other, runs and their steps, pins."""

import uuid
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from production.plan import reasons
from studio.models import Job, Piece, Unit, User, Versioned

DAY_MINUTES = [MaxValueValidator(16 * 60, "A day at the bench is at most 960 minutes.")]
AT_LEAST_ONE = [MinValueValidator(1, "It is at least 1.")]
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def _day(default: int, name: str) -> models.PositiveSmallIntegerField:  # type: ignore[type-arg]
    return models.PositiveSmallIntegerField(
        f"{name}, minutes", default=default, validators=DAY_MINUTES
    )


class WorkingWeek(Versioned):
    """What the bench of a unit can do; a unit without a row works with the defaults."""

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
        """From Monday to Sunday."""
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
        """0 is Monday."""
        named = self.courier_days.split(",") if self.courier_days else []
        return frozenset(WEEKDAYS.index(name) for name in named)


class OtherDays(models.Model):
    """Days on which the week is another: off, or with other minutes (a bank holiday worked)."""

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


class PlanPin(models.Model):
    """The owner's word that a step of a job stays on a day."""

    class Kind(models.TextChoices):
        POUR = "pour", "Pour"
        DEMOULD = "demould", "Demould"
        FRAME = "frame", "Frame"
        HAND_OVER = "hand_over", "Hand over"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="plan_pins")
    piece = models.ForeignKey(
        Piece, on_delete=models.PROTECT, null=True, blank=True, related_name="plan_pins"
    )
    kind = models.CharField(max_length=10, choices=Kind.choices)
    on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_out_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["job", "kind", "piece"],
                condition=Q(taken_out_at=None),
                name="plan_pin_one_a_piece",
            ),
            models.UniqueConstraint(
                fields=["job", "kind"],
                condition=Q(taken_out_at=None, piece=None),
                name="plan_pin_one_a_job",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.job} on {self.on:%Y-%m-%d}"


class ByCourier(models.Model):
    """A job that goes home by courier, so only on the courier's days."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="by_courier")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.job} by courier"


class PlanRun(models.Model):
    """One plan of all open jobs, as it was worked out."""

    class How(models.TextChoices):
        QUICK = "quick", "quick"
        SOLVED = "solved", "solved"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="plan_runs")
    made_at = models.DateTimeField()
    today = models.DateField()
    how = models.CharField(max_length=10, choices=How.choices)
    # What it was made from: see `planning.queries.state_of`.
    state = models.CharField(max_length=120)
    late_days = models.PositiveIntegerField()
    # The least lateness that any plan can have, as far as proven; the gap lies between the two.
    least_late_days = models.PositiveIntegerField(null=True, blank=True)
    is_proven = models.BooleanField(default=False)
    seconds = models.FloatField(default=0)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["unit", "-id"], name="plan_run_newest")]

    def __str__(self) -> str:
        return f"plan of {self.unit}, {self.made_at:%Y-%m-%d %H:%M}"


class PlanStep(models.Model):
    """One step of a run on its day, and why it stands there."""

    run = models.ForeignKey(PlanRun, on_delete=models.CASCADE, related_name="steps")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="+")
    piece = models.ForeignKey(
        Piece, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kind = models.CharField(max_length=10)
    on = models.DateField()
    minutes = models.PositiveSmallIntegerField(default=0)
    reason = models.JSONField(default=list, blank=True)  # see plan.reasons
    latest_on = models.DateField(null=True, blank=True)
    pinned = models.BooleanField(default=False)
    moved_from = models.DateField(null=True, blank=True)
    moved_reason = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=("pour", "demould", "weigh", "frame", "ready", "hand_over")),
                name="plan_step_kind_known",
            ),
        ]
        indexes = [models.Index(fields=["run", "on"], name="plan_step_by_day")]

    def __str__(self) -> str:
        return f"{self.kind} {self.job} on {self.on:%Y-%m-%d}"

    @property
    def why(self) -> str:
        """Why it is on its day, in words."""
        return reasons.words(self.reason, self.on)

    @property
    def moved_why(self) -> str:
        """Why it left the day on which it was planned before, in words."""
        return reasons.words(self.moved_reason, self.on)


class SpoilReason(models.Model):
    """What can spoil a piece, in the unit's own words: in use from a day, perhaps until one."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="spoil_reasons")
    how = models.CharField("counted as", max_length=10)
    words = models.CharField("in your words", max_length=80)
    from_on = models.DateField("in use from")
    until_on = models.DateField("no longer from", null=True, blank=True)

    class Meta:
        ordering = ["words", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "words"],
                condition=Q(until_on=None),
                name="spoil_reason_words_once",
            ),
            models.CheckConstraint(
                condition=Q(until_on=None) | Q(until_on__gte=F("from_on")),
                name="spoil_reason_in_order",
            ),
        ]

    def __str__(self) -> str:
        return self.words


class Spoilage(models.Model):
    """What a spoiled cast cost: reckoned when it is given up, kept as it was then."""

    class Remedy(models.TextChoices):
        RE_POUR = "re_pour", "poured again"
        NEW_SITTING = "new_sitting", "new sitting"

    cast = models.OneToOneField(
        "production.Cast", on_delete=models.PROTECT, related_name="spoilage"
    )
    reason = models.ForeignKey(
        SpoilReason, on_delete=models.PROTECT, null=True, blank=True, related_name="spoilages"
    )
    remedy = models.CharField(max_length=12, choices=Remedy.choices)
    days_lost = models.PositiveSmallIntegerField("days lost")
    minutes_lost = models.PositiveSmallIntegerField("minutes lost")
    plaster_g = models.FloatField("plaster lost, g")
    # Of the plaster, by the stores' prices; None where the stores do not know it.
    cost_minor = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(plaster_g__gte=0), name="spoilage_plaster_sane"),
        ]

    def __str__(self) -> str:
        return f"{self.cast}: {self.get_remedy_display()}"
