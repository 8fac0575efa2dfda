"""The field for a file that says how a made-to-order piece is to look."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from orders.services import drawings
from orders.services.drawings import Drawing
from shop.shared.errors import Invalid


class DrawingField(forms.FileField):
    """One drawing or photo, looked through before anything is booked."""

    def __init__(self) -> None:
        endings = ",".join(f".{ending}" for ending in drawings.TYPES)
        super().__init__(
            label="Drawing or photo",
            required=False,
            allow_empty_file=True,
            widget=forms.FileInput(attrs={"accept": endings}),
            help_text="PDF, JPG or PNG, up to 20 MB. If the slip comes back, choose it again.",
        )

    def clean(self, data: Any, initial: Any = None) -> Drawing | None:
        """Return what is kept, or nothing where no file was chosen."""
        sent: UploadedFile | None = super().clean(data, initial)
        if sent is None:
            return None
        too_large = (sent.size or 0) > drawings.MOST_BYTES
        content = sent.read(drawings.MOST_BYTES + 1) if too_large else sent.read()
        try:
            return drawings.look_at(sent.name or "", sent.content_type or "", content)
        except Invalid as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal
