"""What is typed on the Floor: counts with their causes, loads, readings, and what was seen beside the count."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.models import CountReject, Step, StepCause
from inventory.services.count_facts import Reject, Seen, Weighed
from inventory.services.hardness import Reading
from shop.shared import units
from shop.shared.errors import Invalid
from shop.staff.fields import Moment, SlipForm, Typed, Whole, Words

MANY = "5+"
FIGURES = ("0", "1", "2", "3", "4", MANY)
UNKNOWN = "unknown"
Fate = CountReject.Fate
_HRC = re.compile(r"(\d{1,2}(?:[.,]\d)?)\s*(?:hrc)?", re.IGNORECASE)
_PAIR = re.compile(r"(\d{1,2}(?:[.,]\d)?)\s*(?:/|to|-)\s*(\d{1,2}(?:[.,]\d)?)\s*(?:hrc)?", re.IGNORECASE)
_DEGREES = re.compile(r"(\d{2,4})\s*°?\s*([cf])", re.IGNORECASE)


class HardnessField(Typed):
    """A reading: 53 for Rockwell, 50/55 for a file pair, "rebound 53" for a rebound tester."""

    def read(self, text: str) -> Reading:
        """Read a reading in tenths of HRC."""
        method, rest = "rockwell", text.strip()
        if rest.lower().startswith("rebound"):
            method, rest = "rebound", rest[7:].strip()
        pair, one = _PAIR.fullmatch(rest), _HRC.fullmatch(rest)
        if pair:
            return Reading("file pair", _tenths(pair[1]), _tenths(pair[2]))
        if one:
            return Reading(method, _tenths(one[1]), _tenths(one[1]))
        sentence = f"Hardness: {text[:20]!r} is no reading; 53, rebound 53 or a pair of files such as 50/55 would work."
        raise Invalid.field("hardness", sentence)


def _tenths(text: str) -> int:
    return round(float(text.replace(",", ".")) * 10)


class Degrees(Typed):
    """A temperature with its unit, in tenths of a degree Celsius; what was typed is kept beside it."""

    keyboard = "text"

    def read(self, text: str) -> tuple[int, str]:
        """Read a temperature."""
        found = _DEGREES.fullmatch(text.strip())
        if not found:
            sentence = f"Temperature: {text[:20]!r} lacks its unit or figures; 204 C or 400 F would work."
            raise Invalid.field("temperature", sentence)
        value = int(found[1])
        tenths = value * 10 if found[2].lower() == "c" else round((value - 32) * 50 / 9)
        return tenths, f"{value} °{found[2].upper()}"


class Weights(Words):
    """Heads on the scale, one after another, each with its number where it has one: 2 lb 1 oz, 7: 930 g."""

    def clean(self, value: Any) -> Any:
        """Return what each head weighed."""
        text = super().clean(value)
        found = []
        for part in re.split(r"[;\n]+", text):
            number, colon, weight = part.rpartition(":")
            if not part.strip():
                continue
            try:
                mass = units.parse_mass(weight.strip())
            except Invalid as refusal:
                raise forms.ValidationError(refusal.sentence) from refusal
            found.append(Weighed(mass.mg, weight.strip()[:40], number.strip()[:20] if colon else ""))
        return found


class SeenForm(SlipForm):
    """What was counted at one point: rejects by cause on strips, and what is seldom said besides."""

    only = Whole(label="Only so many were done", required=False, help_text="Empty: all that stand here.")
    minutes = Whole(label="Minutes it took", required=False, most=100_000)
    people = Whole(label="How many worked on it", required=False, most=100)
    happened_at = Moment(label="It happened at", help_text="Empty: now.")

    def __init__(self, *args: Any, step: Step, causes: Sequence[StepCause], stand: int, **kwargs: Any) -> None:
        self.step, self.causes, self.stand = step, causes, stand
        super().__init__(*args, **kwargs)
        seen = units.plain_number(self.data.get("stood"))
        if seen is not None:
            self.stand = seen  # what the hand saw when it touched, not what stands there by now
        for cause in [*causes, None]:
            self._add(cause)
        self.tune()

    def _add(self, cause: StepCause | None) -> None:
        key = self.key(cause)
        name = cause.name if cause else "not known yet"
        self.fields[f"c_{key}"] = forms.ChoiceField(choices=[(f, f) for f in FIGURES], label=name, required=False)
        self.fields[f"n_{key}"] = Whole(label=f"How many: {name}", required=False)
        if cause and cause.second:
            self.fields[f"s_{key}"] = Whole(label=f"Of {name}, sold as seconds", required=False)
        if cause and cause.rework_to:
            self.fields[f"x_{key}"] = Whole(label=f"Of {name}, scrap all the same", required=False)

    @staticmethod
    def key(cause: StepCause | None) -> str:
        """Return the name of a cause's fields."""
        return str(cause.pk) if cause else UNKNOWN

    def strips(self) -> list[dict[str, Any]]:
        """Return the strips to be printed, each with what is chosen and its number field where there are many."""
        rows = []
        for cause in [*self.causes, None]:
            key = self.key(cause)
            chosen = self.data.get(f"c_{key}", "0") if self.is_bound else "0"
            number = self[f"n_{key}"] if chosen == MANY else None
            word = cause.name if cause else "not known yet"
            alone = bool(cause and cause.handle_only)
            rows.append({"cause": word, "name": f"c_{key}", "chosen": chosen, "number": number, "alone": alone})
        return rows

    def more(self) -> list[Any]:
        """Return the fields for seconds and for scrap where a cause is usually worked over."""
        return [self[name] for name in self.fields if name[:2] in ("s_", "x_")]

    def clean(self) -> dict[str, Any]:
        """Bring the strips together into rejects."""
        typed = super().clean() or {}
        rejects: list[Reject] = []
        for cause in [*self.causes, None]:
            rejects += self._rejects(cause, typed)
        typed["rejects"] = rejects
        pieces = sum(one.qty for one in rejects if not (one.cause and one.cause.handle_only))
        taken = typed.get("only") or self.stand
        if pieces > taken:
            self.add_error("only", f"{pieces} are rejected of {taken} that stand here; touch fewer.")
        if taken < 1:
            self.add_error("only", "Nothing stands here any more; go back to the Floor and look.")
        typed["good"] = taken - pieces
        return typed

    def _rejects(self, cause: StepCause | None, typed: dict[str, Any]) -> list[Reject]:
        key = self.key(cause)
        chosen = typed.get(f"c_{key}") or "0"
        if chosen == MANY and not typed.get(f"n_{key}"):
            if f"n_{key}" not in self.errors:
                self.add_error(f"n_{key}", "Five or more: write how many.")
            return []
        qty = typed.get(f"n_{key}") if chosen == MANY else int(chosen)
        qty = qty or 0
        other = typed.get(f"s_{key}") or typed.get(f"x_{key}") or 0
        if other > qty:
            field = f"s_{key}" if typed.get(f"s_{key}") else f"x_{key}"
            self.add_error(field, f"Only {qty} are rejected for it; write {qty} or fewer.")
            return []
        usual = Fate.REWORK if cause and cause.rework_to else Fate.SCRAP
        unusual = Fate.SECOND if typed.get(f"s_{key}") else Fate.SCRAP
        parts = [(qty - other, usual), (other, unusual)]
        return [Reject(number, cause, fate) for number, fate in parts if number]


class CountForm(SeenForm):
    """A count of heads."""

    def seen(self) -> Seen:
        """Return what was counted."""
        typed = self.cleaned_data
        return Seen(typed["good"], typed["rejects"], minutes=typed["minutes"], people=typed["people"])


class CheckForm(SeenForm):
    """A count of tempered heads: looked at for cracks, read for hardness, weighed."""

    crack_checked = forms.BooleanField(label="Every one was looked at for cracks", required=False)
    reading = HardnessField(label="Hardness", required=False, help_text="53, rebound 53, or two files: 50/55.")
    light = Whole(label="Light", required=False, least=0)
    in_class = Whole(label="Usual", required=False, least=0)
    heavy = Whole(label="Heavy", required=False, least=0)
    weights = Weights(longest=2_000, label="Or weighed one by one", required=False, rows=2)

    def seen(self) -> Seen:
        """Return what was counted."""
        typed = self.cleaned_data
        return Seen(
            typed["good"],
            typed["rejects"],
            crack_checked=typed["crack_checked"],
            reading=typed["reading"],
            minutes=typed["minutes"],
            people=typed["people"],
            light=typed["light"] or 0,
            in_class=typed["in_class"] or 0,
            heavy=typed["heavy"] or 0,
            weights=typed["weights"] or (),
        )


class HaftForm(SeenForm):
    """Heads that got handles."""

    tool = forms.ChoiceField(label="Which tool")
    glued = forms.BooleanField(label="Glued: a day until it is dry", required=False)

    def seen(self) -> tuple[Seen, int]:
        """Return what was counted, and how many handles were lost alone."""
        typed = self.cleaned_data
        lost = sum(one.qty for one in typed["rejects"] if one.cause and one.cause.handle_only)
        return Seen(typed["good"], typed["rejects"], minutes=typed["minutes"], people=typed["people"]), lost


class PackForm(SeenForm):
    """Tools that are packed; those that are not dry need a reason."""

    early = Words(longest=200, label="Not dry yet, goes all the same because", required=False)

    def seen(self) -> Seen:
        """Return what was counted."""
        typed = self.cleaned_data
        return Seen(typed["good"], typed["rejects"], minutes=typed["minutes"], people=typed["people"])
