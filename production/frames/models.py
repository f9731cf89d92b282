"""Models of frames: mouldings and sizes, a job's frame, cuttings, and the offcut rack."""

import uuid
from datetime import datetime
from typing import Any, ClassVar, NamedTuple

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from production.stock.models import Material
from studio.accounts.models import Unit, User
from studio.jobs.models import Job
from studio.versions import Versioned


def _between(least: int, most: int) -> list[Any]:
    return [MinValueValidator(least), MaxValueValidator(most)]


SIDE_MM = _between(80, 1500)


class FrameHabits(Versioned):
    """How a unit lays out and builds frames: usual margins, thicknesses and sheet sizes."""

    unit = models.OneToOneField(Unit, on_delete=models.PROTECT, related_name="frame_habits")
    edge_mm = models.PositiveSmallIntegerField(
        "from the frame to the casts, mm", default=20, validators=_between(0, 200)
    )
    gap_mm = models.PositiveSmallIntegerField(
        "between casts, mm", default=12, validators=_between(0, 200)
    )
    border_mm = models.PositiveSmallIntegerField(
        "plaster round the print, mm", default=10, validators=_between(0, 60)
    )
    cast_mm = models.PositiveSmallIntegerField(
        "thickness of a cast, mm", default=18, validators=_between(5, 60)
    )
    air_mm = models.PositiveSmallIntegerField(
        "air under the glass, mm", default=3, validators=_between(0, 40)
    )
    plate_width_mm = models.PositiveSmallIntegerField(
        "width of a plate, mm", default=80, validators=_between(20, 400)
    )
    plate_height_mm = models.PositiveSmallIntegerField(
        "height of a plate, mm", default=20, validators=_between(5, 100)
    )
    glazing_mm = models.PositiveSmallIntegerField(
        "thickness of the glass, mm", default=2, validators=_between(1, 10)
    )
    back_mm = models.PositiveSmallIntegerField(
        "thickness of the backing board, mm", default=3, validators=_between(1, 20)
    )
    board_width_mm = models.PositiveSmallIntegerField(
        "width of a backing sheet, mm", default=1220, validators=_between(200, 5000)
    )
    board_height_mm = models.PositiveSmallIntegerField(
        "height of a backing sheet, mm", default=610, validators=_between(200, 5000)
    )
    glass_width_mm = models.PositiveSmallIntegerField(
        "width of a sheet of glass, mm", default=1120, validators=_between(200, 5000)
    )
    glass_height_mm = models.PositiveSmallIntegerField(
        "height of a sheet of glass, mm", default=815, validators=_between(200, 5000)
    )
    kerf_mm = models.PositiveSmallIntegerField(
        "the saw takes of a board, mm", default=3, validators=_between(0, 10)
    )
    useful_mm = models.PositiveSmallIntegerField(
        "shortest offcut to keep, mm", default=250, validators=_between(50, 2000)
    )
    board_material = models.ForeignKey(
        Material,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="backing boards in the stores as",
        help_text="A material that is used by hand: a cutting takes its boards from it.",
    )
    glass_material = models.ForeignKey(
        Material,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="glass in the stores as",
        help_text="A material that is used by hand: a cutting takes its panes from it.",
    )

    class Meta:
        verbose_name_plural = "frame habits"

    def __str__(self) -> str:
        return f"frames of {self.unit}"


class Moulding(Versioned):
    """A moulding that frames are made of: its section, the length of a bar, and the loss at a cut."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="mouldings")
    name = models.CharField(max_length=60)
    face_mm = models.PositiveSmallIntegerField("face width, mm", validators=_between(8, 150))
    height_mm = models.PositiveSmallIntegerField("height, mm", validators=_between(10, 150))
    rebate_mm = models.PositiveSmallIntegerField("rebate, width mm", validators=_between(3, 30))
    rebate_depth_mm = models.PositiveSmallIntegerField(
        "rebate, depth mm", validators=_between(3, 140)
    )
    allowance_mm = models.PositiveSmallIntegerField(
        "allowance, mm",
        default=3,
        validators=_between(0, 10),
        help_text="By how much the rebate is larger than the board, so that nothing jams.",
    )
    loss_mm = models.PositiveSmallIntegerField(
        "lost at a cut, mm",
        default=5,
        validators=_between(0, 50),
        help_text="The saw and the squaring of the mitre, between two rails.",
    )
    stock_mm = models.PositiveSmallIntegerField(
        "length of a bar, mm", default=3000, validators=_between(500, 6000)
    )
    material = models.ForeignKey(
        Material,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="in the stores as",
        help_text="A material that is used by hand: a cutting takes its new bars from it.",
    )
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "name"],
                condition=Q(retired_at=None),
                name="moulding_name_once",
                violation_error_message="You have a moulding of this name.",
            ),
            models.CheckConstraint(
                condition=Q(face_mm__gt=F("rebate_mm"), height_mm__gt=F("rebate_depth_mm")),
                name="moulding_has_wood_round_its_rebate",
                violation_error_message="The rebate must be smaller than the wood on both ways.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class FrameSize(models.Model):
    """A size of the range: width and height visible inside the frame."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="frame_sizes")
    name = models.CharField(max_length=40)
    width_mm = models.PositiveSmallIntegerField("width, mm", validators=SIDE_MM)
    height_mm = models.PositiveSmallIntegerField("height, mm", validators=SIDE_MM)

    class Meta:
        ordering = ["width_mm", "height_mm", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "width_mm", "height_mm"],
                name="frame_size_once",
                violation_error_message="This size is in your range.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.width_mm} × {self.height_mm} mm"


class FrameOption(models.Model):
    """A backing or a finish that this unit builds frames with."""

    class Kind(models.TextChoices):
        BACKING = "backing", "backing"
        FINISH = "finish", "oak finish"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="frame_options")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    name = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "kind", "name"], name="frame_option_once"),
        ]

    def __str__(self) -> str:
        return self.name


class FrameSpecification(Versioned):
    """What family or studio have decided about a job's frame; an empty size is computed."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="frame_specification")
    backing = models.ForeignKey(
        FrameOption, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    finish = models.ForeignKey(
        FrameOption, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    plate_words = models.CharField("words on the plate", max_length=200, blank=True)
    layout_words = models.CharField("how the casts lie", max_length=200, blank=True)
    moulding = models.ForeignKey(
        Moulding, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    width_mm = models.PositiveSmallIntegerField(
        "width inside, mm", null=True, blank=True, validators=SIDE_MM
    )
    height_mm = models.PositiveSmallIntegerField(
        "height inside, mm", null=True, blank=True, validators=SIDE_MM
    )
    matched = models.BooleanField("grain runs round: all four sides from one bar", default=False)
    plate = models.BooleanField("a plate below the casts", default=True)

    class Meta:
        db_table = "production_framechoice"
        constraints = [
            models.CheckConstraint(
                condition=Q(width_mm=None, height_mm=None)
                | Q(width_mm__isnull=False, height_mm__isnull=False),
                name="frame_choice_both_sides_or_none",
            ),
        ]

    def __str__(self) -> str:
        return f"frame of {self.job}"

    @property
    def has_backing_or_finish(self) -> bool:
        """Whether a backing or a finish is chosen."""
        return bool(self.backing or self.finish)

    @classmethod
    def of(cls, job: Job) -> "FrameSpecification":
        """Return the job's specification, or an unsaved empty one. One query if not loaded."""
        models.prefetch_related_objects([job], cls.loaded())
        found: FrameSpecification | None = getattr(job, "frame_specification", None)
        return found or cls(job=job)

    @classmethod
    def loaded(cls, through: str = "") -> "models.Prefetch[str]":
        """Return the prefetch for jobs, or for rows that reach a job `through` a relation like "job__". One query."""
        rows = cls.objects.select_related("moulding", "backing", "finish")
        return models.Prefetch(f"{through}frame_specification", rows)


class Cutting(models.Model):
    """A cutting that was made: its drawing and the new bars used. Never changed."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="cuttings")
    moulding = models.ForeignKey(Moulding, on_delete=models.PROTECT, related_name="cuttings")
    new_bars = models.PositiveSmallIntegerField()
    content = models.JSONField()
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="cutting_key_once"),
        ]

    def __str__(self) -> str:
        return f"{self.moulding}, cut {self.at:%Y-%m-%d}"

    def get_absolute_url(self) -> str:
        return reverse("production:cutting", args=[self.pk])


class CutFrame(models.Model):
    """Marks the rails of a job's frame as cut, at most once a job."""

    cutting = models.ForeignKey(Cutting, on_delete=models.PROTECT, related_name="frames")
    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="cut_frame")

    def __str__(self) -> str:
        return f"rails of {self.job}"


class Offcut(models.Model):
    """An offcut in the offcut rack, by the number on its label."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="offcuts")
    moulding = models.ForeignKey(Moulding, on_delete=models.PROTECT, related_name="offcuts")
    number = models.PositiveIntegerField()
    length_mm = models.PositiveSmallIntegerField("length, mm", validators=_between(50, 6000))
    defect_from_mm = models.PositiveSmallIntegerField("defect from, mm", null=True, blank=True)
    defect_to_mm = models.PositiveSmallIntegerField("to, mm", null=True, blank=True)
    racked_at = models.DateTimeField()
    came_from = models.ForeignKey(
        Cutting, on_delete=models.PROTECT, null=True, blank=True, related_name="offcuts"
    )
    used_by = models.ForeignKey(
        Cutting, on_delete=models.PROTECT, null=True, blank=True, related_name="used_offcuts"
    )
    gone_at = models.DateTimeField(null=True, blank=True)
    key = models.UUIDField(default=uuid.uuid4)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "number"], name="offcut_number_once"),
            models.UniqueConstraint(fields=["unit", "key"], name="offcut_key_once"),
            models.CheckConstraint(
                condition=Q(defect_from_mm=None, defect_to_mm=None)
                | Q(defect_to_mm__gt=F("defect_from_mm"), length_mm__gte=F("defect_to_mm")),
                name="offcut_defect_lies_on_it",
                violation_error_message="The defect must lie on the piece, its end after its start.",
            ),
        ]
        indexes = [
            models.Index(
                fields=["unit", "moulding"], name="offcut_racked", condition=Q(gone_at=None)
            )
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """The number as written on the offcut: "R12"."""
        return f"R{self.number}"


class FrameStep(NamedTuple):
    """One step of framing: its name, its label, and when it was done."""

    name: str
    words: str
    at: datetime | None


class Frame(models.Model):
    """The framing of a job, with the time of each step."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="frame")
    glazed = models.BooleanField("glazed", default=True)
    started_at = models.DateTimeField()
    mounted_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField("glazed, or left open", null=True, blank=True)
    backed_at = models.DateTimeField(null=True, blank=True)
    sealed_at = models.DateTimeField(null=True, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)

    STEPS: ClassVar[tuple[str, ...]] = ("mounted", "closed", "backed", "sealed", "checked")

    def __str__(self) -> str:
        return f"frame of {self.job}"

    @property
    def steps(self) -> tuple[FrameStep, ...]:
        """The steps in their order, each with the time at which it was done."""
        words = {"closed": "glazed" if self.glazed else "left open"}
        return tuple(FrameStep(s, words.get(s, s), getattr(self, f"{s}_at")) for s in self.STEPS)

    @property
    def done(self) -> tuple[str, ...]:
        """The names of the steps that are done."""
        return tuple(step.name for step in self.steps if step.at)
