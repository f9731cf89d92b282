import uuid
from collections.abc import Mapping
from typing import Any

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from studio import event_words, references
from studio.accounts.models import Unit, User
from studio.families.models import Child, Family
from studio.jobs import querysets as jobs_querysets
from studio.limbs import Limb
from studio.stages import CLOSED, Stage
from studio.units import join_names


class Job(models.Model):
    """The record of one or more pieces of a family, from the booking to the hand-over."""

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

    objects = jobs_querysets.JobQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(stage__in=Stage.values), name="job_stage_known"),
        ]
        indexes = [
            # Open jobs are a few dozen rows, however many are closed. Over all stages:
            # SQLite takes no partial index for a list of stages that comes as parameters.
            models.Index(fields=["unit", "stage", "promised_on"], name="job_by_stage"),
        ]

    def __str__(self) -> str:
        return self.display_reference

    def get_absolute_url(self) -> str:
        return reverse("studio:job", args=[self.reference])

    @property
    def display_reference(self) -> str:
        return references.display(self.reference)

    @property
    def is_closed(self) -> bool:
        return self.stage in CLOSED

    @property
    def stage_words(self) -> str:
        return Stage(self.stage).label

    @property
    def first_names(self) -> str:
        """First names of the children on the job: "Ada and Tom". No query after `with_people`."""
        return join_names(p.child.first_name for p in self.pieces.all() if not p.left_off_at)


class Piece(models.Model):
    """One limb of one child: one print, one cast, one place in the frame."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="pieces")
    child = models.ForeignKey(Child, on_delete=models.PROTECT, related_name="pieces")
    limb = models.CharField(max_length=10, choices=Limb.choices)
    left_off_at = models.DateTimeField(null=True, blank=True)
    left_off_why = models.CharField(max_length=200, blank=True)

    objects = jobs_querysets.PieceQuerySet.as_manager()

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
        return f"{self.child.first_name}, {_(self.get_limb_display())}"


class JobEvent(models.Model):
    """An entry of a job's history. Rows are only added, never changed or deleted."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="events")
    what = models.CharField(max_length=40, help_text="“move”, or the name of the action.")
    at = models.DateTimeField()
    # None: the family itself, on its private page.
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

    objects = jobs_querysets.EventQuerySet.as_manager()

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
        """Heading of the event in the history: "Casting → Drying", "Weighed"."""
        if self.what == "move":
            return f"{self.get_from_stage_display()} → {self.get_to_stage_display()}"
        return event_words.heading(self.what)

    def details(self, names: Mapping[int, str]) -> str:
        """Describe piece, facts and reason; `names` are the names of the job's pieces by primary key."""
        return event_words.details(self.what, self.subject_id, self.facts, self.why, names)
