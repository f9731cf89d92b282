import uuid
from collections.abc import Mapping

from django.db import models
from django.db.models import F, Q

from bookings.sittings import querysets as sittings_querysets
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, Piece
from studio.versions import Versioned

# Quality marks of a print: the labels for good and bad.
MARKS = {
    "flat": ("fingers flat", "fingers not flat"),
    "toes": ("all toes", "not all toes"),
    "depth": ("depth even", "depth uneven"),
}


class Sitting(Versioned):
    """A visit in the diary in which the prints of one job are taken."""

    class Place(models.TextChoices):
        HOME = "home", "at the family's home"
        STUDIO = "studio", "at the studio"
        ELSEWHERE = "elsewhere", "somewhere else"

    class State(models.TextChoices):
        PLANNED = "planned", "to come"
        DONE = "done", "done"
        CANCELLED = "cancelled", "cancelled"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="sittings")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="sittings")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    place = models.CharField(max_length=10, choices=Place.choices, default=Place.HOME)
    place_words = models.CharField("where exactly", max_length=200, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    young_why = models.CharField("why so young", max_length=200, blank=True)
    cancelled_why = models.CharField(max_length=200, blank=True)
    key = models.UUIDField(default=uuid.uuid4)

    objects = sittings_querysets.SittingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="sitting_key_once"),
            models.UniqueConstraint(
                fields=["job"], condition=Q(state="planned"), name="sitting_one_planned_a_job"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="sitting_ends_after_start"
            ),
        ]
        indexes = [
            models.Index(fields=["unit", "starts_at"], name="sitting_diary"),
            # Overlaps are searched among the few planned sittings, not among all past ones.
            models.Index(
                fields=["unit", "starts_at"], name="sitting_planned", condition=Q(state="planned")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}, {self.starts_at:%Y-%m-%d %H:%M}"


class ClayPrint(Versioned):
    """The print of one limb at one sitting, planned or taken.

    It is `live` while planned, or taken and whole. A piece has at most one live print, so that
    none is taken twice by mistake.
    """

    class Outcome(models.TextChoices):
        PLANNED = "planned", "to take"
        TAKEN = "taken", "taken"
        REPEAT = "repeat", "take again"
        NOT_TODAY = "not_today", "not today"

    sitting = models.ForeignKey(Sitting, on_delete=models.PROTECT, related_name="prints")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="prints")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.PLANNED)
    live = models.BooleanField(default=True)
    tries = models.PositiveSmallIntegerField(default=0)
    note = models.CharField(max_length=200, blank=True)
    tray = models.CharField("tray number", max_length=10, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    # Quality of the print; None: not judged.
    flat = models.BooleanField("fingers flat", null=True, blank=True)
    toes = models.BooleanField("all toes", null=True, blank=True)
    depth_even = models.BooleanField("depth even", null=True, blank=True)
    length_mm = models.PositiveSmallIntegerField("length, mm", null=True, blank=True)
    said_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    said_at = models.DateTimeField(null=True, blank=True)

    objects = sittings_querysets.ClayPrintQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["sitting", "piece"], name="impression_once_a_sitting"),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(live=True), name="impression_one_live_a_piece"
            ),
            models.CheckConstraint(
                condition=~Q(outcome="taken") | Q(taken_at__isnull=False),
                name="impression_taken_has_time",
            ),
            models.CheckConstraint(
                condition=Q(length_mm=None) | Q(length_mm__gte=20, length_mm__lte=400),
                name="impression_length_sane",
            ),
        ]
        indexes = [
            # Measured prints, newest first: limb sizes are estimated from the newest few hundred.
            models.Index(
                fields=["-taken_at", "-id"],
                name="impression_measured",
                condition=Q(length_mm__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_outcome_display()}"

    @property
    def job(self) -> Job:
        return self.sitting.job

    @property
    def answered(self) -> bool:
        """Whether an outcome was recorded at the sitting."""
        return self.outcome != self.Outcome.PLANNED

    @property
    def settled(self) -> bool:
        """Whether the outcome is final, so that the sitting can be finished."""
        return self.outcome in (self.Outcome.TAKEN, self.Outcome.NOT_TODAY)

    @property
    def marks(self) -> dict[str, bool | None]:
        """Quality marks by the names of MARKS; None: not judged."""
        return {"flat": self.flat, "toes": self.toes, "depth": self.depth_even}

    @property
    def quality(self) -> str:
        """Describe the quality: "fingers flat, depth uneven, 74 mm"."""
        return quality_words(self.marks, self.length_mm)


def quality_words(marks: Mapping[str, bool | None], length_mm: int | None) -> str:
    """Describe a print: "fingers flat, depth uneven, 74 mm". `marks` by the names of MARKS."""
    words = [MARKS[name][not good] for name, good in marks.items() if good is not None]
    return ", ".join(words + ([f"{length_mm} mm"] if length_mm else []))
