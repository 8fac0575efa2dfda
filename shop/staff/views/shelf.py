"""The Shelf: tools, heads, handles, consumables; one item with its lots; making up; items and their recipes."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.models import Item, Lot
from inventory.queries import movements, shelf
from inventory.queries.movements import Sought
from inventory.services import catalogue
from orders.queries import availability, book
from orders.queries.availability import Availability
from shop.access.middleware import Here
from shop.access.roles import DESK, reaches
from shop.flows import making_up
from shop.shared import shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views import book_lines
from shop.staff.views import shelf_forms as forms
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_forms import FindForm
from shop.staff.views.counter_history import link
from shop.staff.views.use_rates import use_said

ROOM = "shelf"
_HEADS = {
    Item.Kind.TOOL: "Tools",
    Item.Kind.HEAD: "Heads",
    Item.Kind.HANDLE: "Handles",
    Item.Kind.CONSUMABLE: "Consumables",
    Item.Kind.BLANK: "Blanks",
}


def shelf_page(request: HttpRequest) -> HttpResponse:
    """List what is kept: there, spoken for, can promise, waiting."""
    here = posting.here_of(request)
    form = FindForm(here.GET, shop=shop_row.the_shop())
    typed = form.cleaned_data if form.is_valid() else {}
    items = shelf.items(find=typed.get("find", ""), every=bool(typed.get("every")))
    rows = availability.of([item.pk for item in items], at=posting.doing(here).at)
    kinds = [
        (name, _kind_table(name, kind, [row for row in rows if row.item.kind == kind])) for kind, name in _HEADS.items()
    ]
    facts = {
        "kinds": [(name, table) for name, table in kinds if table.rows],
        "find": typed.get("find", ""),
        "every": typed.get("every"),
        "desk": reaches(here.acting_role, DESK),
    }
    return posting.sheet(here, "staff/shelf/shelf.html", ROOM, facts, form=form)


def _kind_table(name: str, kind: str, rows: list[Availability]) -> Ruled:
    figures = ("there", "spoken for", *(("from parts",) if kind == Item.Kind.TOOL else ()), "waiting", "can promise")
    columns = [Column("what"), *(Column(head, figures=True) for head in figures)]
    return Ruled(name, columns, [_cells(row) for row in rows])


def _cells(row: Availability) -> list[object]:
    item = row.item
    shown = format_html(
        '{} <span class="small"><span class="nb">{}</span>{}</span>',
        link("staff:item", item.name, item.code),
        item.code,
        _note(row),
    )
    figures = [row.there, row.spoken_for or None, *([row.parts or None] if item.kind == Item.Kind.TOOL else [])]
    return [
        shown,
        *("" if n is None else wording.amount(item, n) for n in figures),
        wording.amount(item, row.waiting) if row.waiting else "",
        format_html("<b>{}</b>", wording.amount(item, row.can_promise)),
    ]


def _note(row: Availability) -> str:
    item = row.item
    if not item.active:
        return ", no longer kept"
    if item.reorder_point is not None and row.there < item.reorder_point:
        return f", under the reorder point of {wording.amount(item, item.reorder_point)}"
    return ""


def item_page(request: HttpRequest, code: str) -> HttpResponse:
    """Show one item: its figures, where it stands, its lots, what it is made of, the last lines; make up from here."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None:
        return posting.not_there(here)
    form = forms.MakeUpForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())
    if here.method == "POST" and form.is_valid():
        done = posting.book(here, form, lambda who: _make_up(item, form, who))
        if done:
            return done
    row = availability.one(item, at=posting.doing(here).at)
    facts = {
        "item": item,
        "row": row,
        "figures": _figures(row),
        "places": _places(item),
        "lots": _lots(item),
        "parts": _parts(item),
        "used_in": shelf.used_in(item),
        "waits": book.waits(item_id=item.pk)[:20],
        "lines": book_lines.table(movements.page(Sought(item_id=item.pk), size=10).entries, f"Lines about {item.code}"),
        "desk": reaches(here.acting_role, DESK),
        "to_sort": _to_sort(item),
        "uses": use_said(item),
        "can_make": item.kind == Item.Kind.TOOL and row.parts > 0,
    }
    return posting.sheet(here, "staff/shelf/item.html", ROOM, facts, form=form)


def _to_sort(item: Item) -> str:
    """Return the lot of handles that nobody has sorted yet, the oldest first."""
    if item.kind != Item.Kind.HANDLE:
        return ""
    lots = Lot.objects.filter(item=item, holdings__on_hand__gt=0, holdings__place__sellable=True, sorts=None)
    first = lots.order_by("pk").first()
    return first.code if first else ""


def _make_up(item: Item, form: forms.MakeUpForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    entry, _ = making_up.make_up(item, typed["qty"], stamp=who.stamp(happened_at=typed["happened_at"]))
    said = f"{wording.counted(item, typed['qty'])} made up, line {wording.figures(entry.pk)} of the book."
    return reverse("staff:item", args=[item.code]), said


def _figures(row: Availability) -> list[tuple[str, str]]:
    item = row.item
    found = [
        ("there", wording.amount(item, row.there)),
        ("spoken for", wording.amount(item, row.spoken_for)),
        ("can promise", wording.amount(item, row.can_promise)),
    ]
    if row.waiting:
        found.append(("waiting", wording.amount(item, row.waiting)))
    if row.parts:
        found.append(("more from parts", wording.amount(item, row.parts)))
    return found


def _places(item: Item) -> Ruled:
    columns = [Column("where"), Column("there", figures=True), Column("set aside", figures=True), Column("")]
    rows = []
    for place in shelf.standing(item):
        where = f"{place.place}, step {place.step}" if place.step else place.place
        note = "" if place.sellable and not place.step else "not to be promised from here"
        aside = wording.amount(item, place.allocated) if place.allocated else ""
        rows.append([where, wording.amount(item, place.on_hand), aside, note])
    return Ruled(f"Where {item.name} stands", columns, rows)


def _lots(item: Item) -> Ruled:
    columns = [Column("lot"), Column("left", figures=True), Column("set aside", figures=True), Column("from")]
    rows = []
    for row in shelf.lots(item):
        aside = wording.amount(item, row.allocated) if row.allocated else ""
        rows.append([_lot_link(row.lot), wording.amount(item, row.on_hand), aside, origin(row.lot)])
    return Ruled(f"Lots of {item.name}, the first is taken first", columns, rows)


def _lot_link(lot: Lot) -> SafeString:
    return link("staff:book_lot", lot.code, lot.pk)


def origin(lot: Lot) -> str:
    """Say where a lot came from."""
    came = f"{lot.entry.kind} {wording.on_day(lot.born_at.date())}"
    melt = f", mill heat {lot.melt.heat_number}" if lot.melt else ""
    second = ", a second" if lot.quality == Lot.Quality.SECOND else ""
    return f"{came}{melt}{second}"


def _parts(item: Item) -> Ruled | None:
    parts = shelf.recipe(item)
    if not parts:
        return None
    columns = [Column("part"), Column("goes in", figures=True)]
    rows = [[link("staff:item", p.part.name, p.part.code), wording.amount(p.part, p.quantity)] for p in parts]
    return Ruled(f"What goes into one {item.name}", columns, rows)


def item_new(request: HttpRequest) -> HttpResponse:
    """Write a new item down."""
    here = posting.here_of(request)
    form = forms.NewItemForm(_sent(here), shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        item = catalogue.add_item(at=who.at, by=who.by, **form.facts())
        return reverse("staff:item", args=[item.code]), f"{item.name} is written down."

    lead = "Code, kind and unit stay as they are for life; the rest may be changed."
    asked = Ask("A new item", lead, "Write it down", reverse("staff:shelf"), "Back to the Shelf", room=ROOM)
    return ask(here, form, asked, act, names={"shipped_mass_mg": "shipped_mass"})


def item_change(request: HttpRequest, code: str) -> HttpResponse:
    """Change prices, reorder point, supplier, caution and whatever else may change about an item."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None:
        return posting.not_there(here)
    shop = shop_row.the_shop()
    first = forms.typed_already(item, shop.currency)
    form = forms.ItemForm(_sent(here), shop=shop, unit=item.unit, initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        catalogue.change_item(item, at=who.at, by=who.by, **form.facts())
        return reverse("staff:item", args=[item.code]), f"{item.name} is written down."

    back = reverse("staff:item", args=[item.code])
    asked = Ask(f"Change {item.code}", item.name, "Write it down", back, f"Back to {item.code}", room=ROOM)
    return ask(here, form, asked, act, names={"shipped_mass_mg": "shipped_mass"})


def item_recipe(request: HttpRequest, code: str) -> HttpResponse:
    """Say what goes into one of a tool."""
    here, item = posting.here_of(request), shelf.find_item(code)
    if item is None or item.kind != Item.Kind.TOOL:
        return posting.not_there(here)
    first: dict[str, Any] = {}
    parts = shelf.recipe(item)
    for number, part in enumerate(parts):
        first |= {f"item_{number}": part.part.code, f"qty_{number}": forms.typed_quantity(part.part, part.quantity)}
    form = forms.RecipeForm(_sent(here), shop=shop_row.the_shop(), parts=len(parts), initial=first)

    def act(who: posting.Doing) -> tuple[str, str]:
        catalogue.set_recipe(item, form.cleaned_data["parts"], at=who.at, by=who.by)
        return reverse("staff:item", args=[item.code]), f"What goes into {item.name} is written down."

    back = reverse("staff:item", args=[item.code])
    asked = Ask(
        f"What goes into {item.code}", item.name, "Write it down", back, f"Back to {item.code}", room=ROOM, part="Parts"
    )
    facts = {"rows": form.rows(), "promised": availability.of(None, at=posting.doing(here).at)}
    return ask(here, form, asked, act, names={"parts": "item_0", "tool": "item_0"}, facts=facts)


def _sent(here: Here) -> Any:
    return here.POST if here.method == "POST" else None
