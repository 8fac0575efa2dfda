"""The form for a certificate: the paper, who read it, the figures of the grade's own elements."""

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.calc.certificates import CertificateType
from inventory.models import LimitRow
from inventory.services.certificates import TypedCertificate
from shop.staff.fields import Day, SlipForm, Words
from shop.staff.file_field import FileField

_NOT_SAID = ("", CertificateType.NOT_SAID.value)
_TYPES = [_NOT_SAID, *((one.value, one.value) for one in CertificateType if one is not CertificateType.NOT_SAID)]
OTHER = "other"


class CertificateForm(SlipForm):
    """The paper, who read it, and its figures where somebody types them."""

    read_by = Words(
        longest=8, label="Read and within limits", required=False, help_text="your initials; the quick way, no figures"
    )
    number = Words(longest=60, label="Certificate number", required=False)
    issued_on = Day(label="Its date", required=False)
    paper_type = forms.ChoiceField(label="Type by EN 10204", choices=_TYPES, required=False)
    against = forms.ChoiceField(label="Document and edition it names", choices=[], required=False)
    document = Words(longest=60, label="Another document", required=False)
    edition = Words(longest=40, label="Its edition", required=False)
    as_ordered = Words(
        longest=120,
        label="Narrower as ordered",
        required=False,
        help_text="limits agreed on the order, such as C .95-1.05 Si .15-.35",
    )
    note = Words(longest=300, label="Note", required=False)

    def __init__(self, *args: Any, rows: Sequence[LimitRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = self.data.get("against", "") if self.is_bound else ""
        rows = sorted(
            rows, key=lambda row: str(row.pk) != chosen
        )  # the chosen document's order of elements comes first
        self.fields["file"] = FileField("Paper")
        known = sorted(((str(row.pk), str(row)) for row in rows), key=lambda one: one[1])
        self.fields["against"].choices = [("", "not said"), *known, (OTHER, "another one")]  # type: ignore[attr-defined]
        self.named = {str(row.pk): row for row in rows}
        self.elements = list(
            dict.fromkeys(one.element for row in rows for one in sorted(row.elements.all(), key=lambda e: e.place))
        )
        for element in self.elements:
            self.fields[f"el_{element}"] = Words(
                longest=24, label=f"{element} %", required=False, attrs={"inputmode": "decimal"}
            )
        self.order_fields(["file", "read_by", "number", "issued_on", "paper_type"])
        self.tune()

    def paper_fields(self) -> list[forms.BoundField]:
        """Return the fields of the paper itself."""
        return [bound for bound in self if not bound.name.startswith("el_") and bound.name != "note"]

    def figure_fields(self) -> list[forms.BoundField]:
        """Return a field for each of the grade's own elements, in the document's order."""
        return [self[f"el_{element}"] for element in self.elements]

    def clean(self) -> dict[str, Any]:
        """Refuse figures that no document is named for, and a document named twice."""
        said = super().clean() or {}
        against, document = said.get("against", ""), said.get("document", "")
        if against == OTHER and not document:
            self.add_error("document", "Write which document the paper names, such as ASTM A29/A29M.")
        elif against not in ("", OTHER) and (document or said.get("edition")):
            self.add_error("document", "Two documents are named; choose “another one” above, or leave this empty.")
        elif not against and not document and any(said.get(f"el_{element}") for element in self.elements):
            self.add_error("against", "Choose the document and edition the paper names; no other judges its figures.")
        return said

    def typed(self) -> TypedCertificate:
        """Return what was typed."""
        said = self.cleaned_data
        row = self.named.get(said["against"])
        return TypedCertificate(
            number=said["number"],
            issued_on=said["issued_on"],
            paper_type=said["paper_type"],
            document=row.document if row else said["document"],
            edition=row.edition if row else said["edition"],
            as_ordered=said["as_ordered"],
            figures={element: said[f"el_{element}"] for element in self.elements if said[f"el_{element}"]},
            read_by=said["read_by"],
            note=said["note"],
        )


class AwaitForm(SlipForm):
    """Whether a certificate is to come."""

    awaited = forms.ChoiceField(label="The certificate", choices=[("yes", "is to come"), ("no", "is not to come")])


class TakeBackForm(SlipForm):
    """Why, and whether the melt's own certificate is still to come."""

    reason = Words(longest=300, label="Why", help_text="it is of another mill heat, of another firm's steel")
    awaited = forms.BooleanField(label="The right one is still to come", required=False)
