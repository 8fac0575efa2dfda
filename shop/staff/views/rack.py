"""The Rack: bars drawn to scale by grade and section, blanks, slots and their labels."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import Bar, CutPlan, Holding, Item, Lot, Place
from inventory.queries import cut_question, cuttable, deliveries, findings, rack, stock
from inventory.queries.rack import Pieces, RackBar
from inventory.services import catalogue, delivery_lines
from shop.access.roles import DESK, OWNER, reaches
from shop.shared import clock, shop_row, units
from shop.shared.errors import NotFound
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import door_words
from shop.staff.views.counter_history import link
from shop.staff.views.rack_forms import SlotForm

ROOM = "rack"


@dataclass(frozen=True, slots=True)
class Drawn:
    """One bar to scale: its width in per cent, its length inside or beside the steel, the words under it, and all in words."""

    bar: RackBar
    width: str
    length: str
    words: str
    inside: bool
    words_at: str
    said: str


def drawn(bars: Sequence[RackBar], *, longest: int = 0) -> list[Drawn]:
    """Draw bars from one datum, the longest over the whole width."""
    most = longest or max((bar.length_nm for bar in bars), default=1)
    return [_drawn(bar, most) for bar in bars]


def _drawn(bar: RackBar, most: int) -> Drawn:
    share = max(0.4, bar.length_nm * 100 / most)
    words = f"{where(bar)}, mill heat {bar.heat_number}{state(bar)}"
    inside = share > 50
    at = f"{share / 2:.2f}%" if inside else f"{share + 1:.2f}%"
    said = f"Bar {bar.number}: {units.both(bar.length_nm)}, {words}, {age(bar.days)}"
    return Drawn(bar, f"{share:.2f}%", units.as_taped(bar.length_nm), words, inside, at, said)


def where(bar: RackBar) -> str:
    """Write where a bar stands."""
    return (
        f"slot {bar.place.code}" if bar.place.kind == Place.Kind.RACK and bar.place.code != "RACK" else bar.place.name
    )


def state(bar: RackBar) -> str:
    """Say why a bar must not be cut; nothing where it may."""
    if bar.place.kind == Place.Kind.NOT_TO_BE_USED:
        return ", not to be used"
    if not bar.measured:
        return ", not taped: do not cut"
    if bar.plan:
        return f", in cut plan {bar.plan}"
    return f", do not cut: {bar.held}" if bar.held else ", certificate awaited" if bar.awaited else ""


def age(days: int) -> str:
    """Write how long something has been here."""
    return "here since today" if days == 0 else "here for 1 day" if days == 1 else f"here for {days} days"


def rack_page(request: HttpRequest) -> HttpResponse:
    """Show every bar by grade and section, and the blanks."""
    here, at = posting.here_of(request), clock.now()
    found = rack.groups(at=at)
    longest = max((bar.length_nm for group in found for bar in group.bars), default=1)
    shown = [(group, drawn(group.bars, longest=longest), bars_table(group.item.name, group.bars)) for group in found]
    facts = {
        "groups": shown,
        "scale": scale(longest),
        "blanks": pieces_table("Blanks", rack.blanks(at=at)),
        "plans": cut_question.plans([CutPlan.State.TAKEN, CutPlan.State.ANSWERED, CutPlan.State.ASKED]),
        "waiting": deliveries.unmeasured().count(),
        "count": sum(len(group.bars) for group in found),
        "cuttable": sum(bar.cuttable for group in found for bar in group.bars),
    }
    return posting.sheet(here, "staff/rack/rack.html", ROOM, facts)


def scale(longest: int) -> list[tuple[str, str, str]]:
    """Return the marks of the rule under the bars: place in per cent, words, and how the words stand to it."""
    feet = longest // units.NM_PER_FOOT
    step = 5 if feet > 7 else 1
    marks = [(n * units.NM_PER_FOOT * 100 / longest, f"{n} ft") for n in range(0, int(feet) + 1, step)]
    return [
        (f"{at:.2f}%", words if at else "paint", "start" if at < 3 else "end" if at > 95 else "middle")
        for at, words in marks
    ]


def bars_table(name: str, bars: Sequence[RackBar]) -> Ruled:
    """Return the same bars as a table."""
    columns = [
        Column("bar"),
        Column("length", figures=True),
        Column("mill heat"),
        Column("where"),
        Column("here", figures=True),
        Column(""),
    ]
    rows = [
        [
            link("staff:rack_bar", bar.number, bar.number),
            units.both(bar.length_nm),
            bar.heat_number,
            where(bar),
            f"{bar.days} d",
            state(bar)[2:],
        ]
        for bar in bars
    ]
    return Ruled(f"Bars of {name}", columns, rows)


def pieces_table(caption: str, found: Sequence[Pieces]) -> Ruled:
    """Return pieces by item and lot as a table."""
    columns = [
        Column("what"),
        Column("there", figures=True),
        Column("mill heat"),
        Column("where"),
        Column("here", figures=True),
        Column("lot"),
    ]
    rows = [
        [
            link("staff:item", one.item.name, one.item.code),
            wording.amount(one.item, one.qty),
            one.heat_number,
            one.place.name,
            f"{one.days} d",
            link("staff:book_lot", one.lot.code, one.lot.pk),
        ]
        for one in found
    ]
    return Ruled(caption, columns, rows)


def bar_page(request: HttpRequest, number: str) -> HttpResponse:
    """Show one bar: what is left of it, where, from which melt and delivery, and what may be done with it."""
    here = posting.here_of(request)
    bar = find_bar(number)
    if bar is None:
        return posting.not_there(here)
    left = rack.one(bar.lot, at=clock.now())
    mass = mass_of(bar, left.length_nm) if left else None
    facts = {
        "bar": bar,
        "left": left,
        "drawn": drawn([left], longest=max(left.length_nm, bar.length_nm))[0] if left else None,
        "mass": mass,
        "heavy": door_words.heaviest([mass or 0]),
        "where": where(left) if left else "",
        "state": state(left)[2:] if left else "",
        "why_not": cuttable.why_not(bar) if left else "",
        "fits": [one for one in fits(bar, left.length_nm) if one[1]] if left and left.cuttable else [],
        "size_said": _size_said(bar),
        "shut": left is not None and left.place.kind == Place.Kind.NOT_TO_BE_USED,
        "desk": reaches(here.acting_role, DESK),
        "owner": reaches(here.acting_role, OWNER),
    }
    return posting.sheet(here, "staff/rack/bar.html", ROOM, facts)


def fits(bar: Bar, length_nm: int) -> list[tuple[Item, int]]:
    """Return the blanks that can be sawn from a bar and how many of each fit into so much of it."""
    item = bar.lot.item
    return rack.fitting(rack.blanks_of([item])[item.pk], [length_nm], shop_row.the_shop().kerf_nm)


def _size_said(bar: Bar) -> str:
    check = findings.size_of(bar)
    if check is None or check.allowed is None:
        return ""
    return "within the size tolerance" if check.ok else "out of the size tolerance"


def find_bar(number: str) -> Bar | None:
    """Return a bar by the number painted on its end."""
    found = Bar.objects.select_related(
        "lot__item__grade", "lot__melt", "lot__delivery_line__delivery__supplier", "section", "parent"
    )
    return found.filter(number=number.upper()).first()


def mass_of(bar: Bar, length_nm: int) -> int:
    """Return what so much of a bar weighs, worked out."""
    grade = bar.lot.item.grade
    return delivery_lines.mass_of(bar.section, length_nm, grade.density_ug_per_cm3) if grade else 0


def slots(request: HttpRequest) -> HttpResponse:
    """List the racks, bins and shelves, and add one."""
    here = posting.here_of(request)
    form = SlotForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _add_slot(form, who))
        if done:
            return done
    held = {row["place_id"] for row in Holding.objects.filter(on_hand__gt=0).values("place_id").distinct()}
    columns = [Column("place"), Column("name"), Column("kind"), Column("")]
    rows = [
        [link("staff:rack_slot", p.code, p.code), p.name, p.kind, "" if p.pk in held else "empty"] for p in rack.slots()
    ]
    facts = {"table": Ruled("Slots, bins and shelves", columns, rows), "desk": reaches(here.acting_role, DESK)}
    return posting.sheet(here, "staff/rack/slots.html", ROOM, facts, form=form)


def _add_slot(form: SlotForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    made = catalogue.add_place(code=typed["code"].upper(), name=typed["name"], kind=typed["kind"], at=who.at, by=who.by)
    return reverse("staff:rack_slots"), f"{made.name} is added; print its label and hang it up."


def slot(request: HttpRequest, code: str) -> HttpResponse:
    """Say what a slot, bin or shelf holds; its label leads here."""
    here = posting.here_of(request)
    try:
        place = catalogue.place(code)
    except NotFound:
        return posting.not_there(here)
    if not place.inside:
        return posting.not_there(here)
    at = clock.now()
    groups = rack.groups(at=at, place=place)
    bars = [bar for group in groups for bar in group.bars]
    longest = max((bar.length_nm for bar in bars), default=1)
    facts = {
        "place": place,
        "groups": [(group, drawn(group.bars, longest=longest)) for group in groups],
        "pieces": pieces_table(f"At {place.name}", rack.pieces(None, at=at, place=place)),
        "count": len(bars),
    }
    return posting.sheet(here, "staff/rack/slot.html", ROOM, facts)


def lot_of(pk: int) -> Lot | None:
    """Return a lot by its number in the book."""
    return Lot.objects.select_related("item", "melt", "bar").filter(pk=pk).first()


def not_used(request: HttpRequest) -> HttpResponse:
    """List what is not to be used."""
    here = posting.here_of(request)
    columns = [Column("what"), Column("how much", figures=True), Column("mill heat"), Column(""), Column("")]
    owner = reaches(here.acting_role, OWNER)
    rows = []
    for one in stock.not_to_be_used():
        name = link("staff:book_lot", one.item.name, one.lot_id)
        clear = link("staff:rack_lot_clear", "Use it again", one.lot_id) if owner else ""
        gone = link("staff:rack_lot_scrap", "Scrap it", one.lot_id) if owner else ""
        rows.append([name, wording.amount(one.item, one.on_hand), rack.heat_of(one.lot), clear, gone])
    return posting.sheet(here, "staff/rack/not_used.html", ROOM, {"table": Ruled("Not to be used", columns, rows)})
