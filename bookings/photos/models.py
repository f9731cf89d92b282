import uuid

from django.db import models
from django.db.models import Q
from django.db.models.fields.files import FieldFile

from bookings.photos import cleaning
from bookings.photos import querysets as photos_querysets
from studio.accounts.models import Unit, User
from studio.jobs.models import Job, Piece


class Photo(models.Model):
    """A photograph, re-encoded without metadata, stored outside the web server's reach.

    Three files: `file` in the largest size, `view` for a screen, `thumb` for a list. Rows from
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

    objects = photos_querysets.PhotoQuerySet.as_manager()

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
        """Name what it shows: "Ada, left hand", "the finished frame"."""
        return str(self.piece or self.get_kind_display())

    @property
    def file_names(self) -> list[str]:
        """Names of its files in the storage."""
        return [file.name for file in (self.file, self.view, self.thumb) if file.name]

    def in_size(self, size: str) -> FieldFile:
        """Return the file of a size, or the largest if that size was not made.

        Raises KeyError for an unknown size; opening a missing file raises FileNotFoundError.
        """
        sized = {"full": self.file, "view": self.view, "thumb": self.thumb}[size]
        return sized if sized.name else self.file

    @property
    def view_size(self) -> tuple[int, int]:
        """Width and height of the view in px, so that a page does not jump."""
        return cleaning.bounded(self.width_px, self.height_px, cleaning.SIDES_PX["view"])

    @property
    def thumb_size(self) -> tuple[int, int]:
        """Width and height of the thumb in px, so that a page does not jump."""
        return cleaning.bounded(self.width_px, self.height_px, cleaning.SIDES_PX["thumb"])
