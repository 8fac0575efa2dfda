"""At the saw without a plan: pieces off a bar, a bar in two, a length for own tooling, a painted end that is lost."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bar, Item
from inventory.queries import cuttable, rack
from inventory.services import checking_in, steel_items
from inventory.services.cutting import Blanks, SawJob
from shop.access.middleware import Here
from shop.flows import sawing
from shop.shared import clock, shop_row
from shop.shared.errors import Invalid
from shop.shared.units import both
from shop.staff import posting, wording
from shop.staff.views.asking import Ask, ask
from shop.staff.views.rack import ROOM, find_bar, fits
from shop.staff.views.rack_forms import ReasonForm
from shop.staff.views.saw_forms import OTHER, CutForm, OwnForm, SawForm, SizesForm, TwoForm

SAW_HAZARD = "saw"
SAW_CAUTION = "Clamp the bar and hold up its far end; a long bar tips. Goggles, and no gloves near a running blade."


def cut(request: HttpRequest, number: str) -> HttpResponse:
    """Saw blanks off a bar."""
    here, bar = posting.here_of(request), find_bar(number)
    left = rack.one(bar.lot, at=clock.now()) if bar else None
    if bar is None or left is None:
        return posting.not_there(here)
    form = CutForm(_sent(here), blanks=fits(bar, left.length_nm), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        blank = _blank(bar, form, who)
        job = form.job(blanks=[Blanks(blank, form.cleaned_data["pieces"])], trim_nm=form.length_nm("trim"))
        return _done(bar, job, form, who)

    lead = f"{both(left.length_nm)} of it, mill heat {left.heat_number}."
    return _ask(here, bar, form, act, "Saw blanks", f"{lead} {cuttable.why_not(bar)}".strip(), "Book the cut")


def in_two(request: HttpRequest, number: str) -> HttpResponse:
    """Saw a bar in two, as when it is too long for the rack."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = TwoForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        return _done(bar, form.job(), form, who)

    lead = "Each part gets a number of its own; paint both."
    return _ask(here, bar, form, act, "Saw it in two", lead, "Book the cut")


def own(request: HttpRequest, number: str) -> HttpResponse:
    """Saw a length off for own tooling."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = OwnForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        return _done(bar, form.job(own_nm=form.length_nm("length")), form, who)

    lead = "For a punch, a drift, a jig. It leaves stock."
    return _ask(here, bar, form, act, "A length for own tooling", lead, "Book the cut")


def paint_lost(request: HttpRequest, number: str) -> HttpResponse:
    """Book that nobody can say any more which steel a bar is."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = ReasonForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        made = sawing.paint_lost(bar, stamp=who.stamp(reason=typed["reason"], happened_at=typed["happened_at"]))
        said = f"It is bar {made.number} now, grade unknown: for own tooling only. Paint that number on it."
        return reverse("staff:rack_bar", args=[made.number]), said

    lead = (
        "Only where the painted end is gone and nobody can say for certain which bar it is. Nothing sold is made of it."
    )
    asked = _asked(bar, "Painted end lost", lead, "Its grade is unknown")
    return ask(here, form, asked, act)


def sizes(request: HttpRequest, number: str) -> HttpResponse:
    """Write down two sizes of a bar."""
    here, bar = posting.here_of(request), find_bar(number)
    if bar is None:
        return posting.not_there(here)
    form = SizesForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        checking_in.write_sizes(bar, typed["sizes"], unit=typed["unit"] or None, at=who.at, by=who.by)
        return _to(bar), f"Bar {bar.number} measures {bar.sizes_typed}."

    return ask(here, form, _asked(bar, "Two sizes", "With the micrometer, at a right angle.", "Write them down"), act)


def _blank(bar: Bar, form: CutForm, who: posting.Doing) -> Item:
    code = form.cleaned_data["blank"]
    if code != OTHER:
        return Item.objects.get(code=code)
    nm = form.length_nm("length")
    if not nm:
        raise Invalid.field("length", "Length: write how long a piece is, such as 4-7/16 in.")
    grade, section = bar.lot.item.grade, bar.lot.item.section
    assert grade is not None
    assert section is not None
    return steel_items.blank_item(grade, section, nm, at=who.at, by=who.by)


def _done(bar: Bar, job: SawJob, form: SawForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    done = sawing.cut(bar, job, stamp=who.stamp(reason=typed["note"], happened_at=typed["happened_at"]))
    said = [f"Bar {bar.number} is sawn."]
    made = dict(done.cut.kinds.values_list("blank_id", "count"))
    for lot in done.lots:
        if lot.item.kind == Item.Kind.BAR:
            said.append(f"What is left is bar {lot.bar.number}, {both(lot.bar.length_nm)}: paint the number on it.")
        else:
            said.append(f"{wording.figures(made[lot.item_id])} × {lot.item.name} are in the book.")
    if done.cut.scrap_nm:
        said.append(f"{both(done.cut.scrap_nm)} is scrap.")
    orders = sorted({line.order.number for line in done.served})
    if orders:
        said.append(f"Set aside from it for order {', '.join(map(str, orders))}.")
    kept = next((lot for lot in done.lots if lot.item.kind == Item.Kind.BAR), None)
    return (reverse("staff:rack_bar", args=[kept.bar.number]) if kept else reverse("staff:rack")), " ".join(said)


def _sent(here: Here) -> object:
    return here.POST if here.method == "POST" else None


def _to(bar: Bar) -> str:
    return reverse("staff:rack_bar", args=[bar.number])


def _asked(bar: Bar, title: str, lead: str, do: str, *, caution: str = "") -> Ask:
    return Ask(
        f"{title}: bar {bar.number}",
        f"{bar.lot.item.name}. {lead}",
        do,
        _to(bar),
        f"Back to bar {bar.number}",
        room=ROOM,
        part=title,
        hazard=SAW_HAZARD if caution else "",
        caution=caution,
    )


def _ask(here: Here, bar: Bar, form: SawForm, act: posting.Act, title: str, lead: str, do: str) -> HttpResponse:
    names = {"trim": "trim", "slot": "slot", "left": "left"}
    return ask(here, form, _asked(bar, title, lead, do, caution=SAW_CAUTION), act, names=names)
