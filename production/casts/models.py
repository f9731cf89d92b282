import uuid

from django.db import models
from django.db.models import F, Q

from production import plaster
from production.casts import querysets
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, Piece
from studio.versions import Versioned


class Plaster(Versioned):
    """One kind of plaster that the unit mixes, with the figures of its maker's sheet."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="plasters")
    name = models.CharField("what it is called", max_length=60)
    consistency = models.PositiveSmallIntegerField(
        "water to 100 of plaster, by weight",
        default=70,
        help_text="From the maker’s sheet. Plaster for fine casts takes 63 to 70.",
    )
    density_g_per_ml = models.FloatField(
        "density of the powder, g per ml",
        default=plaster.PLASTER_DENSITY_G_PER_ML,
        help_text="Of the solid, not of the heap: 2.5 to 2.7 for plaster. Leave it if the sheet says nothing.",
    )
    purity_percent = models.PositiveSmallIntegerField(
        "how much of it is plaster, percent",
        default=100,
        help_text="The rest is filler, which binds no water.",
    )
    working_minutes = models.PositiveSmallIntegerField(
        "can be poured for, minutes",
        default=10,
        help_text="From the first powder in the water, on the maker’s sheet.",
    )
    set_minutes = models.PositiveSmallIntegerField(
        "sets in, minutes", default=32, help_text="Casting plaster sets in about 27 to 37 minutes."
    )
    usual = models.BooleanField("the one you usually mix", default=False)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = querysets.PlasterQuerySet.as_manager()

    class Meta:
        ordering = ["-usual", "name", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "name"], condition=Q(retired_at=None), name="plaster_name_once"
            ),
            models.UniqueConstraint(
                fields=["unit"], condition=Q(usual=True), name="plaster_one_usual"
            ),
            models.CheckConstraint(
                condition=Q(usual=False) | Q(retired_at=None), name="plaster_usual_is_in_use"
            ),
            models.CheckConstraint(
                condition=Q(
                    consistency__gte=plaster.MIN_CONSISTENCY,
                    consistency__lte=plaster.MAX_CONSISTENCY,
                ),
                name="plaster_consistency_sane",
            ),
            models.CheckConstraint(
                condition=Q(
                    density_g_per_ml__gte=plaster.MIN_DENSITY_G_PER_ML,
                    density_g_per_ml__lte=plaster.MAX_DENSITY_G_PER_ML,
                ),
                name="plaster_density_sane",
            ),
            models.CheckConstraint(
                condition=Q(purity_percent__gte=50, purity_percent__lte=100),
                name="plaster_purity_sane",
            ),
            models.CheckConstraint(
                condition=Q(working_minutes__gte=1, set_minutes__gt=F("working_minutes")),
                name="plaster_sets_after_working",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def purity(self) -> float:
        """The share of the powder that is plaster, 0.5 to 1."""
        return self.purity_percent / 100


class Workshop(Versioned):
    """The tools and the air of a unit's bench; a unit without a row works with the defaults."""

    unit = models.OneToOneField(Unit, on_delete=models.PROTECT, related_name="workshop")
    temperature_c = models.FloatField(
        "usual temperature, °C", default=20, help_text="Taken where no reading was written down."
    )
    humidity_percent = models.FloatField("usual relative humidity, percent", default=50)
    air_m_per_s = models.FloatField(
        "draught at the rack, m/s",
        default=0.1,
        help_text="0.1 in a still room, about 1 near a fan.",
    )
    scale_g = models.FloatField(
        "the scale is right to, g",
        default=0.5,
        help_text="Its smallest step, or what two weighings of one thing differ by.",
    )
    depth_mm = models.PositiveSmallIntegerField("thickness of a cast, mm", default=20)
    margin_mm = models.PositiveSmallIntegerField("clear round the limb, mm", default=20)
    bucket_ml = models.PositiveIntegerField(
        "one bucket holds, ml", default=2000, help_text="Of slurry that can still be stirred."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(temperature_c__gte=-5, temperature_c__lte=49)
                & Q(humidity_percent__gte=5, humidity_percent__lte=100)
                & Q(air_m_per_s__gte=0, air_m_per_s__lte=5),
                name="workshop_air_sane",
            ),
            models.CheckConstraint(
                condition=Q(scale_g__gte=0.01, scale_g__lte=10), name="workshop_scale_sane"
            ),
            models.CheckConstraint(
                condition=Q(depth_mm__gte=5, depth_mm__lte=100)
                & Q(margin_mm__lte=100)
                & Q(bucket_ml__gte=100, bucket_ml__lte=50_000),
                name="workshop_sizes_sane",
            ),
        ]

    def __str__(self) -> str:
        return f"workshop of {self.unit}"


class RoomReading(models.Model):
    """A reading of thermometer and hygrometer beside the drying rack."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="room_readings")
    at = models.DateTimeField()
    temperature_c = models.FloatField("temperature, °C")
    humidity_percent = models.FloatField("relative humidity, percent")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.RoomReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="room_reading_key_once"),
            models.CheckConstraint(
                condition=Q(temperature_c__gte=-5, temperature_c__lte=60)
                & Q(humidity_percent__gte=5, humidity_percent__lte=100),
                name="room_reading_sane",
            ),
        ]
        indexes = [models.Index(fields=["unit", "-at"], name="room_reading_newest")]

    def __str__(self) -> str:
        return f"{self.temperature_c:g} °C, {self.humidity_percent:g} %, {self.at:%Y-%m-%d %H:%M}"


class Mould(models.Model):
    """The outline of one piece as measured on the clay; without a row its volume is predicted."""

    class Outline(models.TextChoices):
        RECTANGLE = "rectangle", "with corners"
        OVAL = "oval", "round or oval"

    piece = models.OneToOneField(Piece, on_delete=models.PROTECT, related_name="mould")
    outline = models.CharField(max_length=10, choices=Outline.choices, default=Outline.RECTANGLE)
    length_mm = models.PositiveSmallIntegerField("length, mm")
    width_mm = models.PositiveSmallIntegerField("width, mm")
    depth_mm = models.PositiveSmallIntegerField("depth, mm")
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(length_mm__gte=20, length_mm__lte=600)
                & Q(width_mm__gte=20, width_mm__lte=600)
                & Q(depth_mm__gte=5, depth_mm__lte=100),
                name="mould_sane",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.length_mm} × {self.width_mm} × {self.depth_mm} mm"


class LimbCalibration(models.Model):
    """How the unit's measured prints of one kind of limb differ from the published sizes: see `limb_sizes.Calibration`.

    Stored by `measures.store_calibrations` when a print is logged; without a row nothing was measured yet.
    """

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="limb_calibrations")
    kind = models.CharField(max_length=4, choices=[("hand", "hand"), ("foot", "foot")])
    children = models.PositiveIntegerField()
    shift_sd = models.FloatField()
    spread = models.FloatField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "kind"], name="one_calibration_a_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.shift_sd:+.2f} sd from {self.children} children"


class Pour(models.Model):
    """One mix of plaster, poured into the prints of one or more pieces."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="pours")
    poured_at = models.DateTimeField()
    consistency = models.PositiveSmallIntegerField("water to 100 of plaster")
    plaster_g = models.PositiveIntegerField("plaster, g")
    water_g = models.PositiveIntegerField("water, g")
    plaster = models.ForeignKey(
        Plaster, on_delete=models.PROTECT, null=True, blank=True, related_name="pours"
    )
    # What the pieces were thought to take, and what stayed in the bucket: from both the unit learns.
    foreseen_ml = models.FloatField(null=True, blank=True)
    left_g = models.PositiveIntegerField("slurry left over, g", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = querysets.PourQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="pour_key_once"),
            models.CheckConstraint(
                condition=Q(plaster_g__gt=0, water_g__gt=0), name="pour_has_mass"
            ),
            models.CheckConstraint(
                condition=Q(consistency__gte=20, consistency__lte=120), name="pour_consistency_sane"
            ),
            models.CheckConstraint(
                condition=Q(left_g=None) | Q(left_g__lt=F("plaster_g") + F("water_g")),
                name="pour_left_less_than_mixed",
            ),
        ]
        indexes = [
            models.Index(fields=["unit", "-poured_at"], name="pour_newest"),
            # The few of which the bucket was weighed afterwards: the unit learns from the newest.
            models.Index(
                fields=["unit", "-poured_at", "-id"],
                name="pour_left_over",
                condition=Q(left_g__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.plaster_g} g + {self.water_g} g, {self.poured_at:%Y-%m-%d %H:%M}"


class Cast(models.Model):
    """A piece in plaster, from the pour to the frame; a spoiled cast keeps its row."""

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
    # Where it lay last, also when the place is another's already: places differ in draught.
    dried_at_place = models.PositiveSmallIntegerField(null=True, blank=True)
    # Its last weighing that was not struck out, stored with the forecast.
    last_weighed_at = models.DateTimeField(null=True, blank=True)
    last_g = models.FloatField("last weight, g", null=True, blank=True)
    # The forecast, kept by the actions that change what it rests on: one in ten is dry before
    # `dry_early_at`, one in ten after `dry_late_at`.
    dry_early_at = models.DateTimeField(null=True, blank=True)
    dry_likely_at = models.DateTimeField(null=True, blank=True)
    dry_late_at = models.DateTimeField(null=True, blank=True)
    foreseen_dry_g = models.FloatField(null=True, blank=True)
    water_left_g = models.FloatField(null=True, blank=True)
    # What thickness, water and room alone would say, before the unit's own pieces are asked.
    unlearnt_days = models.FloatField(null=True, blank=True)
    # How much each curve of `drying.curves.curve_family` is believed of it: its own plaster teaches the next cast.
    curves = models.JSONField(default=list, blank=True)
    dry_at = models.DateTimeField(null=True, blank=True)
    # Filled when the owner lets a piece go on without the scale's word.
    dry_why = models.CharField(max_length=200, blank=True)
    spoiled_at = models.DateTimeField(null=True, blank=True)
    spoiled_how = models.CharField(max_length=10, choices=Spoil.choices, blank=True)
    spoiled_why = models.CharField(max_length=200, blank=True)

    objects = querysets.CastQuerySet.as_manager()

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
                condition=Q(dry_early_at=None, dry_likely_at=None, dry_late_at=None)
                | Q(dry_early_at__lte=F("dry_likely_at"), dry_likely_at__lte=F("dry_late_at")),
                name="cast_forecast_in_order",
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

    @property
    def job(self) -> Job:
        return self.piece.job


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

    objects = querysets.WeighingQuerySet.as_manager()

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

    @property
    def job(self) -> Job:
        return self.cast.piece.job
