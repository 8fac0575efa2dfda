"""Forms of cut plans: what is wanted, what came of a bar at the saw, saws with their blades, and how the shop cuts."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from inventory.models import Blade, CutPlanBar, CutPlanLine, CutRules, Item
from inventory.services import reading
from inventory.services.cut_asking import Buy
from inventory.services.reading import BarLength
from orders.queries.blanks_wanted import Need
from shop.shared import units
from shop.shared.errors import Invalid
from shop.shared.units import as_taped
from shop.staff.fields import Day, Length, SlipForm, Whole, Words, typed_length
from shop.staff.wording import figures, on_day

OWN_KERF = "own"
_SECONDS = [("5", "5 seconds"), ("10", "10 seconds"), ("30", "half a minute"), ("60", "a minute")]


def needed(needs: Sequence[Need]) -> str:
    """Say what blanks are wanted for: 12 for order 1043 (Thu 17 Dec), 4 for order 1051."""
    return ", ".join(
        f"{figures(one.count)} for order {one.order}{f' ({on_day(one.day)})' if one.day else ''}" for one in needs
    )


class AskForm(SlipForm):
    """How many of each blank, which saw, and what may be bought."""

    def __init__(
        self,
        *args: Any,
        blanks: Sequence[Item],
        needs: Mapping[int, Sequence[Need]],
        blades: Sequence[Blade],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.blanks = blanks
        for blank in blanks:
            wanted = needs.get(blank.pk, ())
            count = sum(one.count for one in wanted)
            self.fields[f"count_{blank.pk}"] = Whole(
                label=f"{blank.name}, {as_taped(blank.blank_length_nm or 0)}",
                least=0,
                most=2_000,
                required=False,
                initial=count or None,
                help_text=needed(wanted)[:200] if wanted else "no order waits for it",
            )
        self.fields["other"] = Words(
            longest=40, label="Another length", required=False, help_text="4-7/16 in, 112 mm; a blank not listed yet"
        )
        self.fields["count_other"] = Whole(label="How many of it", least=0, most=2_000, required=False)
        own = f"the shop's own kerf, {units.both(self.shop.kerf_nm)}"
        saws = [(str(one.pk), f"{one.name}, {as_taped(one.kerf_nm)}, {on_day(one.measured_on)}") for one in blades]
        self.fields["saw"] = forms.ChoiceField(label="Saw", choices=[*saws, (OWN_KERF, own)])
        self.fields["saw"].max_length = 120  # type: ignore[attr-defined] # the page gives long answers a whole row
        self.fields["buy"] = Words(
            longest=300,
            label="Lengths that may be bought",
            required=False,
            help_text="with the price of one bar: 20 ft at 95, 12 ft at 60; empty: none",
        )
        self.fields["seconds"] = forms.ChoiceField(
            label="Look for", choices=_SECONDS, initial="10", help_text="the first plan is there at once"
        )
        self.tune()

    def counts(self) -> dict[int, int]:
        """Return how many of each blank (by item) are wanted."""
        typed = {blank.pk: self.cleaned_data[f"count_{blank.pk}"] or 0 for blank in self.blanks}
        return {pk: count for pk, count in typed.items() if count}

    def other_nm(self) -> int:
        """Return the length of a blank not listed yet, nm; 0 where none is wanted."""
        typed, count = self.cleaned_data["other"], self.cleaned_data["count_other"]
        if bool(typed) != bool(count):
            name = "count_other" if typed else "other"
            raise Invalid.field(name, "Another length: write both, the length and how many; 112 mm and 12 would work.")
        return units.parse_length(typed, field="other").nm if typed else 0

    def blade(self) -> Blade | None:
        """Return the saw; nothing where the shop's own kerf is meant."""
        chosen = self.cleaned_data["saw"]
        return None if chosen == OWN_KERF else Blade.objects.get(pk=int(chosen))

    def buyable(self, exponent: int) -> list[Buy]:
        """Return the lengths that may be bought."""
        return read_buyable(self.cleaned_data["buy"], exponent)


def read_buyable(text: str, exponent: int) -> list[Buy]:
    """Read lengths with prices such as `20 ft at 95, 12 ft at 60.50`; prices in minor units."""
    found = []
    for part in text.replace(";", ",").split(","):
        if not part.strip():
            continue
        length, sign, price = part.partition(" at ")
        if not sign:
            raise Invalid.field("buy", f"Buy: {part.strip()[:40]!r} has no price; 20 ft at 95 would work.")
        nm = units.parse_length(length.strip(), field="buy").nm
        minor = units.parse_money(price.strip(), exponent, field="buy").minor
        found.append(Buy(nm, minor, length.strip()))
    if len(found) > 10:
        raise Invalid.field("buy", "Buy: up to ten lengths would work.")
    return found


class LeftForm(SlipForm):
    """The plan sawn as drawn: only what the tape says is left of each bar that stays."""

    def __init__(self, *args: Any, bars: Sequence[CutPlanBar], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bars = bars
        for bar in bars:
            if bar.kept:
                self.fields[f"left_{bar.pk}"] = Words(
                    longest=40,
                    label=f"Left of {bar.bar.number}",
                    initial=typed_length(bar.left_nm),
                    help_text="as drawn; write over it what the tape says",
                )
        self.tune()

    def left(self, bar: CutPlanBar) -> BarLength | None:
        """Return what the tape says, exactly as drawn where nobody wrote over it."""
        if not bar.kept:
            return None
        typed = self.cleaned_data[f"left_{bar.pk}"]
        if typed == typed_length(bar.left_nm):
            return BarLength(bar.left_nm, typed)
        return reading.bar_list(typed, field=f"left_{bar.pk}")[0]


class OtherwiseForm(SlipForm):
    """One bar sawn otherwise than drawn: how many came off well and what is left."""

    def __init__(self, *args: Any, bar: CutPlanBar, lines: Sequence[CutPlanLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines = [line for line in lines if line.number in bar.pieces]
        for line in self.lines:
            drawn = bar.pieces.count(line.number)
            self.fields[f"good_{line.number}"] = Whole(
                label=f"Good blanks: {line.blank.name}",
                least=0,
                most=drawn,
                initial=drawn,
                help_text=f"{drawn} drawn; a spoiled one goes to scrap",
            )
        self.fields["left"] = Words(
            longest=40, label="Left, by the tape", required=False, help_text="16 ft 3 in; empty where nothing is"
        )
        self.fields["scrap"] = forms.BooleanField(label="The rest is scrap", required=False)
        self.fields["note"] = Words(longest=300, label="What happened", required=False)
        self.tune()

    def good(self) -> dict[int, int]:
        """Return how many of each line came off well."""
        return {line.number: self.cleaned_data[f"good_{line.number}"] for line in self.lines}

    def left(self) -> BarLength | None:
        """Return what the tape says is left; nothing where nothing was written."""
        typed = self.cleaned_data["left"]
        return reading.bar_list(typed, field="left")[0] if typed else None


class BladeForm(SlipForm):
    """A saw with the blade that is on it."""

    name = Words(longest=60, label="Saw and blade", help_text="band saw, 34 mm blade")
    kerf = Length(label="One cut takes", help_text="1/16 in; saw ten slices, measure what is missing, take a tenth")
    tail_hold = Length(label="The vice must hold", required=False, help_text="3 in; empty: a bar is sawn to its end")
    measured_on = Day(label="Measured on")


class RulesForm(SlipForm):
    """How the shop plans its cuts."""

    min_remnant = Length(label="Shortest remnant kept", help_text="shorter is scrap")
    trim = Length(label="Mill end cut off a full bar", required=False, help_text="1/2 in; empty: none")
    remnant_price = Length(label="A new remnant counts as", help_text="that much scrap")
    handled_price = Length(label="A bar sawn counts as", help_text="that much scrap")
    full_price = Length(label="A full bar opened counts as", help_text="that much scrap")
    one_heat = forms.BooleanField(label="Each kind of blank from one mill heat", required=False)

    def rules(self) -> CutRules:
        """Return what was typed."""
        typed = self.cleaned_data
        return CutRules(
            min_remnant_nm=typed["min_remnant"],
            trim_nm=typed["trim"] or 0,
            remnant_price_nm=typed["remnant_price"],
            handled_price_nm=typed["handled_price"],
            full_price_nm=typed["full_price"],
            one_heat=typed["one_heat"],
        )


def rules_typed(rules: CutRules) -> dict[str, object]:
    """Return the rules as a form shows them."""
    return {
        "min_remnant": typed_length(rules.min_remnant_nm),
        "trim": typed_length(rules.trim_nm) if rules.trim_nm else "",
        "remnant_price": typed_length(rules.remnant_price_nm),
        "handled_price": typed_length(rules.handled_price_nm),
        "full_price": typed_length(rules.full_price_nm),
        "one_heat": rules.one_heat,
    }
