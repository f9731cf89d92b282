"""Forms for what a tablet sends besides entries: parts of photographs, choices, and its queue as a file."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.core.validators import RegexValidator

from bookings.photos import cleaning
from bookings.photos.models import Photo
from bookings.tablet.photo_parts import MAX_PART_BYTES
from bookings.tablet.photos import PhotoUpload
from studio.accounts.models import Unit
from studio.jobs.models import Piece
from studio.tablet.models import TabletEntry
from studio.tablet.parsing import MAX_INTEGER, Unreadable, parse_json, parse_time, to_server_time
from studio.web.forms import StudioForm

LARGEST_FILE_MB = 300


class PhotoUploadForm(forms.Form):
    """Description of a photograph. `missing`: the unit has no such job or piece."""

    device = forms.UUIDField()
    total_bytes = forms.IntegerField(min_value=1)
    sha256 = forms.CharField(validators=[RegexValidator(r"\A[0-9a-f]{64}\Z")])
    job = forms.CharField(max_length=9)
    piece = forms.IntegerField(required=False, min_value=1, max_value=MAX_INTEGER)
    kind = forms.ChoiceField(choices=Photo.Kind.choices)
    said_at = forms.CharField()
    tapped_by = forms.IntegerField(required=False, min_value=1, max_value=MAX_INTEGER)

    def __init__(self, *args: Any, unit: Unit, key: UUID, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit, self.key = unit, key
        self.missing = False

    @property
    def is_too_large(self) -> bool:
        return bool(self.cleaned_data["total_bytes"] > cleaning.MAX_BYTES)

    def clean_said_at(self) -> datetime:
        return _moment(self.cleaned_data["said_at"])

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if self.errors:
            return said
        reference = said["job"].replace("-", "").upper()
        job = self.unit.jobs.filter(reference=reference).select_related("family").first()
        piece = Piece.objects.filter(job=job, pk=said["piece"]).first() if said["piece"] else None
        self.missing = job is None or bool(said["piece"] and piece is None)
        return {**said, "job": job, "piece": piece}

    def to_upload(self, *, skew: timedelta, now: datetime) -> PhotoUpload:
        """Convert to a PhotoUpload; the form must be valid and not `missing`."""
        said = self.cleaned_data
        return PhotoUpload(
            device=said["device"],
            key=self.key,
            job=said["job"],
            piece=said["piece"],
            kind=said["kind"],
            digest=said["sha256"],
            total_bytes=said["total_bytes"],
            said_at=said["said_at"],
            at=to_server_time(said["said_at"], skew, now),
            tapped_by=said["tapped_by"],
        )


class PartForm(PhotoUploadForm):
    """One part of a photograph, `offset` bytes from its beginning."""

    sent_at = forms.CharField()
    offset = forms.IntegerField(min_value=0)
    chunk = forms.FileField()

    def clean_sent_at(self) -> datetime:
        return _moment(self.cleaned_data["sent_at"])

    @property
    def content(self) -> bytes:
        return bytes(self.cleaned_data["chunk"].read())

    @property
    def is_too_long(self) -> bool:
        """Whether this part exceeds the limit."""
        return bool(self.cleaned_data["chunk"].size > MAX_PART_BYTES)


class ChoiceForm(forms.Form):
    """The choice between "mine" and "theirs" by somebody who has seen version `seen`."""

    choice = forms.ChoiceField(
        choices=[each for each in TabletEntry.Choice.choices if each[0] != "later"]
    )
    seen = forms.IntegerField(required=False, min_value=0, max_value=MAX_INTEGER)


class TabletFileForm(StudioForm):
    """The upload of a tablet's queue as a file."""

    queue = forms.FileField(
        label="The tablet’s file",
        widget=forms.FileInput(attrs={"accept": "application/json,.json"}),
        help_text="Made on the tablet under “Not sent yet”. Sending it twice does no harm.",
        error_messages={
            "required": "Choose the file.",
            "empty": "This file is empty: make it on the tablet once more.",
        },
    )

    def clean_queue(self) -> dict[str, Any]:
        return _queue_in(self.cleaned_data["queue"])


def _queue_in(file: UploadedFile[Any]) -> dict[str, Any]:
    if (file.size or 0) > LARGEST_FILE_MB * 1024 * 1024:
        raise forms.ValidationError(
            f"This file is larger than {LARGEST_FILE_MB} MB: send the photographs from the tablet."
        )
    try:
        queue = parse_json(file.read())
    except Unreadable:
        queue = {}
    if queue.get("caststead") != "queue":
        raise forms.ValidationError("This is not a file that the tablet’s page has made.")
    return queue


def _moment(value: str) -> datetime:
    try:
        return parse_time(value)
    except Unreadable as unreadable:
        raise forms.ValidationError(str(unreadable)) from None
