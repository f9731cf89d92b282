"""Enquiries, the diary, impressions, consent and photographs."""

import uuid
from collections.abc import Mapping
from datetime import datetime

from django.db import models
from django.db.models import F, Q
from django.db.models.fields.files import FieldFile

from bookings import photos, queries
from studio.models import Family, Job, Piece, Unit, User, Versioned

ANSWERED_WITHIN_DAYS = 2

# What may be said of a print: as it should be, and otherwise.
MARKS = {
    "flat": ("fingers flat", "fingers not flat"),
    "toes": ("all toes", "not all toes"),
    "depth": ("depth even", "depth uneven"),
}


class Enquiry(models.Model):
    """Somebody who asks: by phone, from the web, sent on by the network office."""

    class Source(models.TextChoices):
        OFFICE = "office", "sent on by the network office"
        WEB = "web", "our web page"
        PHONE = "phone", "telephone"
        FAIR = "fair", "a fair"
        WORD = "word", "word of mouth"
        BACK = "back", "a family that came before"

    class Answer(models.TextChoices):
        FAMILY = "family", "became a family"
        DECLINED = "declined", "came to nothing"

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="enquiries")
    received_at = models.DateTimeField()
    name = models.CharField(max_length=80)
    phone = models.CharField(max_length=30, blank=True)
    email = models.EmailField("e-mail address", blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    words = models.TextField("what they asked", blank=True)
    source = models.CharField("how they found us", max_length=10, choices=Source.choices)
    answer = models.CharField(max_length=10, choices=Answer.choices, blank=True)
    answer_why = models.CharField(max_length=200, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    family = models.ForeignKey(
        Family, on_delete=models.PROTECT, null=True, blank=True, related_name="enquiries"
    )
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.EnquiryQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "enquiries"
        constraints = [
            models.UniqueConstraint(fields=["unit", "key"], name="enquiry_key_once"),
            models.CheckConstraint(
                condition=~Q(phone="") | ~Q(email=""), name="enquiry_can_be_answered"
            ),
            models.CheckConstraint(
                condition=~Q(answer="family") | Q(family__isnull=False),
                name="enquiry_answer_names_family",
            ),
        ]
        indexes = [
            models.Index(
                fields=["unit", "received_at"], name="enquiry_waiting", condition=Q(answer="")
            ),
            models.Index(fields=["unit", "-answered_at"], name="enquiry_answered"),
        ]

    def __str__(self) -> str:
        return self.name

    def why_late(self, now: datetime) -> str:
        """A sentence once it has waited too long for its answer, else nothing."""
        days = (now - self.received_at).days
        return f"Has waited {days} days for an answer." if days >= ANSWERED_WITHIN_DAYS else ""


class Sitting(Versioned):
    """A date in the diary on which impressions are taken for one job."""

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

    objects = queries.SittingQuerySet.as_manager()

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
            # A free time is looked for among the few to come, not among all that ever were.
            models.Index(
                fields=["unit", "starts_at"], name="sitting_planned", condition=Q(state="planned")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}, {self.starts_at:%Y-%m-%d %H:%M}"


class Impression(Versioned):
    """One limb at one sitting, from being planned to being in the clay.

    It is `live` while it may still come to something: planned, or taken and whole. A piece has at
    most one live impression, so nothing is sat for twice by mistake.
    """

    class Outcome(models.TextChoices):
        PLANNED = "planned", "to take"
        TAKEN = "taken", "taken"
        REPEAT = "repeat", "take again"
        NOT_TODAY = "not_today", "not today"

    sitting = models.ForeignKey(Sitting, on_delete=models.PROTECT, related_name="impressions")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="impressions")
    outcome = models.CharField(max_length=10, choices=Outcome.choices, default=Outcome.PLANNED)
    live = models.BooleanField(default=True)
    tries = models.PositiveSmallIntegerField(default=0)
    note = models.CharField(max_length=200, blank=True)
    tray = models.CharField("tray number", max_length=10, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    # How the print looks, as far as anybody said.
    flat = models.BooleanField("fingers flat", null=True, blank=True)
    toes = models.BooleanField("all toes", null=True, blank=True)
    depth_even = models.BooleanField("depth even", null=True, blank=True)
    length_mm = models.PositiveSmallIntegerField("length, mm", null=True, blank=True)
    said_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    said_at = models.DateTimeField(null=True, blank=True)

    objects = queries.ImpressionQuerySet.as_manager()

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
            # What was measured, newest first: a unit learns its sizes from the newest few hundred.
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
        """Whether anything was said about it at the sitting."""
        return self.outcome != self.Outcome.PLANNED

    @property
    def settled(self) -> bool:
        """Whether the sitting may be finished as far as this limb goes."""
        return self.outcome in (self.Outcome.TAKEN, self.Outcome.NOT_TODAY)

    @property
    def marks(self) -> dict[str, bool | None]:
        """What was said of the print, by the names of MARKS; None: nothing."""
        return {"flat": self.flat, "toes": self.toes, "depth": self.depth_even}

    @property
    def quality(self) -> str:
        """The print in words: "fingers flat, depth uneven, 74 mm"."""
        return quality_words(self.marks, self.length_mm)


def quality_words(marks: Mapping[str, bool | None], length_mm: int | None) -> str:
    """How a print looks: "fingers flat, depth uneven, 74 mm". `marks` by the names of MARKS."""
    words = [MARKS[name][not good] for name, good in marks.items() if good is not None]
    return ", ".join(words + ([f"{length_mm} mm"] if length_mm else []))


class Consent(models.Model):
    """A family's word for one purpose: dated, with the wording it was asked in, revocable."""

    class Purpose(models.TextChoices):
        MAKE = "make", "take the prints and make the casts"
        KEEP = "keep", "keep photographs of the sitting and the casts"
        SHOW = "show", "show photographs of the finished casts on the studio’s page"

    family = models.ForeignKey(Family, on_delete=models.PROTECT, related_name="consents")
    purpose = models.CharField(max_length=10, choices=Purpose.choices)
    wording = models.TextField()
    wording_version = models.CharField(max_length=20)
    given_by = models.CharField("who said yes", max_length=80)
    given_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    recorded_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # Nobody of the studio: the family itself, by its private link.
    withdrawn_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.ConsentQuerySet.as_manager()

    class Meta:
        ordering = ["-given_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["family", "key"], name="consent_key_once"),
            models.UniqueConstraint(
                fields=["family", "purpose"],
                condition=Q(withdrawn_at=None),
                name="consent_one_standing_a_purpose",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | Q(withdrawn_at__gte=F("given_at")),
                name="consent_withdrawn_after_given",
            ),
        ]
        indexes = [
            models.Index(
                fields=["purpose", "family"],
                name="consent_taken_back",
                condition=Q(withdrawn_at__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.family}: {self.purpose}"


class Photo(models.Model):
    """A photograph, re-encoded without metadata, kept where no web server reaches it.

    Three files: `file` as large as it is kept, `view` for a screen, `thumb` for a list. Rows from
    before there were sizes have no view or thumb until `manage.py tidy_photos` has made them.
    """

    class Kind(models.TextChoices):
        SITTING = "sitting", "the sitting"
        FINISHED = "finished", "the finished frame"

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="photos")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="photos")
    piece = models.ForeignKey(
        Piece, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    kind = models.CharField(max_length=10, choices=Kind.choices)
    file = models.FileField(upload_to="photos/")
    view = models.FileField(upload_to="photos/", blank=True)
    thumb = models.FileField(upload_to="photos/", blank=True)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    taken_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.UUIDField(default=uuid.uuid4)

    objects = queries.PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["taken_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["job", "key"], name="photo_key_once"),
            models.CheckConstraint(
                condition=Q(width_px__gt=0, height_px__gt=0), name="photo_has_size"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.get_kind_display()}"

    @property
    def shows(self) -> str:
        """What is on it, in words: "Ada, left hand", "the finished frame"."""
        return str(self.piece or self.get_kind_display())

    @property
    def file_names(self) -> list[str]:
        """The names of its files in the storage."""
        return [file.name for file in (self.file, self.view, self.thumb) if file.name]

    def in_size(self, size: str) -> FieldFile:
        """Its file of that size, the whole one where the size was never made.

        Raises KeyError for a size that no photograph has, FileNotFoundError when opened and gone.
        """
        kept = {"full": self.file, "view": self.view, "thumb": self.thumb}[size]
        return kept if kept.name else self.file

    @property
    def view_size(self) -> tuple[int, int]:
        """Width and height of the view in px, so that a page does not jump."""
        return photos.bounded(self.width_px, self.height_px, photos.SIDES_PX["view"])

    @property
    def thumb_size(self) -> tuple[int, int]:
        """Width and height of the thumb in px, so that a page does not jump."""
        return photos.bounded(self.width_px, self.height_px, photos.SIDES_PX["thumb"])
