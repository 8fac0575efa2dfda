"""The field for a file: a drawing, a certificate, a photo."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from shop.shared import files
from shop.shared.errors import Invalid
from shop.shared.files import Kept


class FileField(forms.FileField):
    """One paper or photo, looked through before anything is booked."""

    def __init__(self, label: str) -> None:
        endings = ",".join(f".{ending}" for ending in files.TYPES)
        super().__init__(
            label=label,
            required=False,
            allow_empty_file=True,
            widget=forms.FileInput(attrs={"accept": endings}),
            help_text="PDF, JPG or PNG, up to 20 MB. If the slip comes back, choose it again.",
        )

    def clean(self, data: Any, initial: Any = None) -> Kept | None:
        """Return what is kept, or nothing where no file was chosen."""
        sent: UploadedFile | None = super().clean(data, initial)
        if sent is None:
            return None
        too_large = (sent.size or 0) > files.MOST_BYTES
        content = sent.read(files.MOST_BYTES + 1) if too_large else sent.read()
        try:
            return files.look_at(sent.name or "", sent.content_type or "", content)
        except Invalid as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal
