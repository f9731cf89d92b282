from datetime import date

from django.db import models
from django.db.models import Q

from production.schedule import reasons
from studio import units
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, Piece


class PlanPin(models.Model):
    """A step of a job that the owner has pinned to a day."""

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
    """Marks a job that goes home by courier, and so on a courier day."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="by_courier")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.job} by courier"


class PlanRun(models.Model):
    """One stored plan of all open jobs."""

    class How(models.TextChoices):
        QUICK = "quick", "quick"
        SOLVED = "solved", "solved"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="plan_runs")
    made_at = models.DateTimeField()
    today = models.DateField()
    how = models.CharField(max_length=10, choices=How.choices)
    # What it was made from: see `planning.inputs.plan_state`.
    state = models.CharField(max_length=120)
    # Primary key of the newest event of the unit's jobs that its steps take into account.
    last_event = models.PositiveBigIntegerField(default=0)
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
    """One step of a stored plan: its day and the reason for it."""

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
        """The reason for its day, in words."""
        return reasons.words(self.reason, self.on)

    @property
    def moved_why(self) -> str:
        """The reason why it was moved, in words."""
        return reasons.words(self.moved_reason, self.on)

    @property
    def missed_on(self) -> date | None:
        """The planned day on which it was not done; None if it was not moved for that."""
        codes = [code for code, *_values in self.moved_reason]
        return self.moved_from if "not_done" in codes else None

    @property
    def note(self) -> str:
        """Why it was moved, in words with its day before; empty if it was not."""
        if self.moved_from in (None, self.on):
            return ""
        if self.missed_on:
            return self.moved_why
        return f"moved from {units.day(self.moved_from)}: {self.moved_why}"
