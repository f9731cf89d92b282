"""The bench: pours, casts on the rack, weighings and frames."""

import uuid

from django.db import models
from django.db.models import Q

from production import queries
from studio.models import Job, Piece, Unit, User


class Pour(models.Model):
    """One mix of plaster, poured into the impressions of one or more pieces."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="pours")
    poured_at = models.DateTimeField()
    consistency = models.PositiveSmallIntegerField("water to 100 of plaster")
    plaster_g = models.PositiveIntegerField("plaster, g")
    water_g = models.PositiveIntegerField("water, g")
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.PourQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="pour_key_once"),
            models.CheckConstraint(
                condition=Q(plaster_g__gt=0, water_g__gt=0), name="pour_has_mass"
            ),
            models.CheckConstraint(
                condition=Q(consistency__gte=20, consistency__lte=120), name="pour_consistency_sane"
            ),
        ]
        indexes = [models.Index(fields=["unit", "-poured_at"], name="pour_newest")]

    def __str__(self) -> str:
        return f"{self.plaster_g} g + {self.water_g} g, {self.poured_at:%Y-%m-%d %H:%M}"


class Cast(models.Model):
    """A piece in plaster, from the pour to the frame. A spoiled one stays in the books."""

    class Spoil(models.TextChoices):
        BUBBLE = "bubble", "bubble"
        BREAK = "break", "broken"
        SMUDGE = "smudge", "smudged print"
        SOFT = "soft", "soft or crumbling"
        OTHER = "other", "something else"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="casts")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="casts")
    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="casts")
    demoulded_at = models.DateTimeField(null=True, blank=True)
    rack_place = models.PositiveSmallIntegerField(null=True, blank=True)
    dry_at = models.DateTimeField(null=True, blank=True)
    # Filled when the owner lets a piece go on without the scale's word.
    dry_why = models.CharField(max_length=200, blank=True)
    spoiled_at = models.DateTimeField(null=True, blank=True)
    spoiled_how = models.CharField(max_length=10, choices=Spoil.choices, blank=True)
    spoiled_why = models.CharField(max_length=200, blank=True)

    objects = queries.CastQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(spoiled_at=None), name="cast_one_whole_a_piece"
            ),
            models.UniqueConstraint(
                fields=["unit", "rack_place"],
                condition=Q(rack_place__isnull=False),
                name="cast_one_a_rack_place",
            ),
            models.CheckConstraint(
                condition=Q(dry_at=None) | Q(demoulded_at__isnull=False),
                name="cast_dry_after_demoulding",
            ),
            models.CheckConstraint(
                condition=Q(spoiled_at=None) | (~Q(spoiled_how="") & Q(rack_place=None)),
                name="cast_spoiled_says_how_and_leaves_the_rack",
            ),
        ]
        indexes = [
            models.Index(
                fields=["unit", "demoulded_at"],
                name="cast_damp",
                condition=Q(spoiled_at=None, dry_at=None),
            )
        ]

    def __str__(self) -> str:
        return f"cast of {self.piece}"


class Weighing(models.Model):
    cast = models.ForeignKey(Cast, on_delete=models.PROTECT, related_name="weighings")
    at = models.DateTimeField()
    mass_g = models.FloatField("weight, g")
    # Filled when the scale showed more than last time and the person says why it is right.
    heavier_why = models.CharField(max_length=200, blank=True)
    # A slip (another piece, a wrong digit) stays in the books and counts no more.
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_why = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.WeighingQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["cast", "key"], name="weighing_key_once"),
            models.CheckConstraint(
                condition=Q(mass_g__gt=0, mass_g__lt=50_000), name="weighing_mass_sane"
            ),
            models.CheckConstraint(
                condition=Q(struck_at=None) | ~Q(struck_why=""), name="weighing_struck_says_why"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_g:g} g, {self.at:%Y-%m-%d %H:%M}"


class Frame(models.Model):
    """The framing of a job: each step is the time at which it was done."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="frame")
    glazed = models.BooleanField("glazed", default=True)
    started_at = models.DateTimeField()
    mounted_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField("glazed, or left open", null=True, blank=True)
    backed_at = models.DateTimeField(null=True, blank=True)
    sealed_at = models.DateTimeField(null=True, blank=True)
    checked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"frame of {self.job}"
