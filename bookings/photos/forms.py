from typing import Any

from django import forms

from bookings.photos import cleaning
from bookings.photos.models import Photo
from studio.jobs.models import Job, Piece
from studio.web.forms import KeyedForm


class PhotoForm(KeyedForm):
    photo = forms.FileField(
        label="Photograph",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp,image/heic"}),
        help_text="JPEG, PNG, WebP or HEIC, up to 50 MB. Place and time are taken out of it.",
        error_messages={
            "required": "Choose a photograph.",
            "empty": "This file is empty: take the photograph again, or send it once more.",
        },
    )
    kind = forms.ChoiceField(
        label="It shows", choices=Photo.Kind.choices, initial=Photo.Kind.SITTING
    )
    piece = forms.ModelChoiceField(
        label="Which piece", queryset=Piece.objects.none(), required=False, empty_label="all of it"
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pieces = self.fields["piece"]
        pieces.queryset = job.pieces.on_the_job().select_related("child")  # type: ignore[attr-defined]

    def clean_photo(self) -> cleaning.CleanPhoto:
        try:
            return cleaning.clean(self.cleaned_data["photo"])
        except cleaning.PhotoRefused as refused:
            raise forms.ValidationError(str(refused)) from None

    @property
    def facts(self) -> dict[str, Any]:
        """Arguments of the action `add_photo`."""
        written = dict(self.cleaned_data)
        return {"clean": written.pop("photo"), **written}
