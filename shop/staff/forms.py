"""Forms of the shop: what Django would say in its own words is said in the shop's, and refusals land beside the field.

A view does `attempt(form, lambda: orders.take(..., by=here.person))`: one transaction around one call of the domain; a
refusal becomes the form's, what was typed stays, and the page is printed again with `status_of(form)`.
"""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.core import validators
from django.http import HttpRequest, QueryDict

from shop.shared.errors import Refusal
from shop.shared.transactions import entry_point

T = TypeVar("T")

_EMPTY = "Nothing is written here yet; it is needed."
_CHOICE = "This is not on the list; choose one that is."
_SENTENCES: Mapping[type[forms.Field], dict[str, str]] = {
    forms.IntegerField: {"invalid": "This is no whole number; figures alone, such as 12, would work."},
    forms.DecimalField: {"invalid": "This is no number; figures such as 12.50 would work."},
    forms.DateField: {"invalid": "This is no day; one written as 2026-12-17 would work."},
    forms.DateTimeField: {"invalid": "This is no moment; one written as 2026-12-17 10:42 would work."},
    forms.TimeField: {"invalid": "This is no time of day; one written as 17:00 would work."},
    forms.EmailField: {"invalid": "This is no e-mail address; name@example.org would work."},
    forms.ChoiceField: {"invalid_choice": _CHOICE},
    forms.MultipleChoiceField: {"invalid_choice": _CHOICE, "invalid_list": _CHOICE},
}
_LIMITS: Mapping[type[Any], str] = {
    validators.MaxLengthValidator: "This is %(show_value)d characters long; up to %(limit_value)d would work.",
    validators.MinLengthValidator: "This is %(show_value)d characters long; %(limit_value)d or more would work.",
    validators.MinValueValidator: "This is too little; %(limit_value)s or more would work.",
    validators.MaxValueValidator: "This is too much; up to %(limit_value)s would work.",
    validators.ProhibitNullCharactersValidator: "This holds a sign that cannot be kept; type it again.",
}


class ShopForm(forms.Form):
    """A form that speaks plainly; its fields' ids are tied to labels by the template part `field`."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            speak_plainly(field)


def typed_in(request: HttpRequest) -> QueryDict | None:
    """Return what was sent, for the form's first argument: a form sent empty is still a form that was sent."""
    return request.POST if request.method == "POST" else None


def attempt(form: forms.BaseForm, action: Callable[[], T]) -> T | None:
    """Run one call of the domain in a transaction; where it is refused, write the refusal into the form."""
    try:
        with entry_point():
            return action()
    except Refusal as refusal:
        refuse(form, refusal)
        return None


def refuse(form: forms.BaseForm, refusal: Refusal) -> None:
    """Put a refusal's sentences beside the fields they are about, the rest on top of the form."""
    for name, sentence in (refusal.fields or {"": refusal.sentence}).items():
        if name in form.fields:
            form.add_error(name, _without_label(sentence, str(form[name].label)))
        else:
            form.add_error(None, sentence)
    form.refused_with = refusal.status  # type: ignore[attr-defined] # read by status_of


def status_of(form: forms.BaseForm) -> int:
    """Return the status a page with this form is answered with: 200 as it is opened, 422 or the refusal's own after."""
    if not form.is_bound or not form.errors:
        return 200
    status: int = getattr(form, "refused_with", 422)
    return status


def _without_label(sentence: str, label: str) -> str:
    """Cut "Name: " off a sentence that stands beside the field of that name already."""
    start = f"{label}: "
    if not sentence.startswith(start):
        return sentence
    rest = sentence[len(start) :]
    return rest[:1].upper() + rest[1:]


def speak_plainly(field: forms.Field) -> None:
    """Let a field say in the shop's words what Django would say in its own."""
    for kind in reversed(type(field).__mro__):
        plain = {"required": _EMPTY} if kind is forms.Field else _SENTENCES.get(kind, {})
        for code, sentence in plain.items():
            usual = getattr(kind, "default_error_messages", {}).get(code)
            if field.error_messages.get(code) in {usual, forms.Field.default_error_messages.get(code)}:
                field.error_messages[code] = sentence
    for validator in field.validators:
        said = _LIMITS.get(type(validator))
        if said:
            validator.message = said  # type: ignore[attr-defined] # an attribute of every validator class named above
