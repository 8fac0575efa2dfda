"""Purchase orders as they are written: new, changed while the supplier does not have them, closed, a line cancelled."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.models import CutPlan, Item, PurchaseOrder, Supplier
from inventory.queries import deliveries
from inventory.services import purchase_changes, purchasing, reading, steel_items
from inventory.services.purchasing import ToBuy
from shop.flows.night import words
from shop.shared import clock, shop_row, units
from shop.shared.errors import Invalid
from shop.staff import posting
from shop.staff.views import bought_bars, buying_forms
from shop.staff.views.asking import Ask, ask
from shop.staff.views.buying_forms import FIELDS, MOST_LINES, BuyForm, CloseForm

ROOM = "door"
MOST_BOUGHT = 20_000  # units of one item in a line of an order; more is a slip of the hand. No source


def order_new(request: HttpRequest) -> HttpResponse:
    """Write down what is ordered from a supplier."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    today = clock.local_date(clock.now(), shop.zone)
    asked = {"ordered_on": today, **_asked(request)}
    if here.method == "POST" and not buying_forms.asks_for_more(here):
        form = BuyForm(here.POST, shop=shop, lines=buying_forms.sent_lines(here))
        if form.is_valid():
            done = posting.book(here, form, lambda who: _once(here, form, who))
            if done:
                return done
    elif here.method == "POST":
        form = BuyForm(shop=shop, initial=here.POST.dict(), lines=buying_forms.sent_lines(here))
    else:
        form = BuyForm(shop=shop, initial=asked, lines=buying_forms.asked_lines(asked))
    return _written(here, form, None)


def order_change(request: HttpRequest, number: int) -> HttpResponse:
    """Write an order anew that the supplier does not have yet."""
    here, found, shop = posting.here_of(request), deliveries.order(number), shop_row.the_shop()
    if found is None or (here.method != "POST" and not purchase_changes.may_change(found)):
        return posting.not_there(here)
    if here.method == "POST" and not buying_forms.asks_for_more(here):
        form = BuyForm(here.POST, shop=shop, of=found, lines=buying_forms.sent_lines(here))
        if form.is_valid():
            done = posting.book(here, form, lambda who: _change(found, form, who))
            if done:
                return done
    elif here.method == "POST":
        form = BuyForm(shop=shop, of=found, initial=here.POST.dict(), lines=buying_forms.sent_lines(here))
    else:
        first = buying_forms.typed_of(found, shop.currency)
        form = BuyForm(shop=shop, of=found, initial=first, lines=buying_forms.asked_lines(first))
    return _written(here, form, found)


def _written(here: Any, form: BuyForm, found: PurchaseOrder | None) -> HttpResponse:
    plan = None if found else _plan(form["plan"].value())
    facts = {
        "of": found,
        "twice": getattr(here, "written_already", None),
        "rows": form.rows(),
        "full": form.lines >= MOST_LINES,
        "from_plan": bought_bars.said(plan) if plan else "",
        "suppliers": Supplier.objects.order_by("name")[:300],
        "goods": deliveries.receivable_items()[:500],
    }
    return posting.sheet(here, "staff/door/order_new.html", ROOM, facts, form=form)


def _asked(request: HttpRequest) -> dict[str, str]:
    """Return what a link fills in, for a person to look at before it is written down."""
    names = ["supplier", "wanted_on", "note", "plan", *(f"{name}_{n}" for n in range(MOST_LINES) for name in FIELDS)]
    return {name: request.GET[name][:120] for name in names if name in request.GET}


def _plan(number: object) -> CutPlan | None:
    text = str(number or "")
    if not text.isdecimal() or len(text) > 9:
        return None
    return CutPlan.objects.select_related("item").filter(number=int(text)).first()


def _once(here: Any, form: BuyForm, who: posting.Doing) -> tuple[str, str]:
    """Write the order; one that stands there already is asked about, and written again only by the button for it."""
    try:
        return _order(form, who, second="second" in here.POST)
    except purchase_changes.WrittenTwice as twice:
        here.written_already = twice.facts["order"]
        raise


def _order(form: BuyForm, who: posting.Doing, *, second: bool) -> tuple[str, str]:
    typed = form.cleaned_data
    lines, places = _to_buy(form, who)
    supplier = purchasing.supplier_named(typed["supplier"], at=who.at, by=who.by)
    with places:
        order = purchasing.open_order(
            supplier,
            lines,
            ordered_on=typed["ordered_on"],
            wanted_on=typed["wanted_on"],
            note=typed["note"],
            cut_plan=_plan(typed["plan"]),
            at=who.at,
            by=who.by,
        )
    if not second:
        purchase_changes.check_not_twice(order)
    said = f"Order {order.number} to {supplier.name} is written down, and not sent yet."
    return reverse("staff:door_order", args=[order.number]), said


def _change(found: PurchaseOrder, form: BuyForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    lines, places = _to_buy(form, who)
    with places:
        purchase_changes.change(
            found, lines, wanted_on=typed["wanted_on"], note=typed["note"], version=typed["version"],
            at=who.at, by=who.by,
        )  # fmt: skip
    return to(found), f"Order {found.number} is changed."


class _Places:
    """Turns a refusal's places among the lines into the form's fields."""

    def __init__(self, numbers: list[int]) -> None:
        self.numbers = numbers

    def __enter__(self) -> None:
        """Nothing to do before."""

    def __exit__(self, _kind: object, refusal: object, _trace: object) -> None:
        """Rename the fields of a refusal."""
        if isinstance(refusal, Invalid):
            places = {f"lines.{at}.quantity": f"qty_{number}" for at, number in enumerate(self.numbers)}
            refusal.fields = {places.get(name, name): sentence for name, sentence in refusal.fields.items()}


def _to_buy(form: BuyForm, who: posting.Doing) -> tuple[list[ToBuy], _Places]:
    lines, numbers = [], []
    for number, item, shape, size, quantity, price in form.typed_lines():
        wanted = _item(number, item, shape, size, who)
        _check_typed(number, wanted, quantity)
        lines.append(ToBuy(wanted, quantity, price))
        numbers.append(number)
    return lines, _Places(numbers)


def _check_typed(number: int, item: Item, quantity: str) -> None:
    """Refuse a bare number that is no whole number of what an item is bought by, and what is far out of range."""
    count = units.plain_number(quantity.strip())
    if item.kind == Item.Kind.BAR:
        return
    each, unit = item.issue_per_buy, item.buy_unit
    if count is not None and item.unit == Item.Unit.PIECE and unit and each > 1 and count % each:
        packs = max(1, -(-count // each))
        whole = f"{packs} {words.plural(unit, packs)}"
        raise Invalid.field(
            f"qty_{number}",
            f"How many: {item.code} is bought by the {unit} of {each}; write {whole}, or {count} pieces.",
        )
    try:
        packs = reading.quantity(quantity, item).qty // each
    except Invalid:
        return  # refused where it is read, in better words
    if item.unit == Item.Unit.PIECE and packs > MOST_BOUGHT:
        raise Invalid.field(
            f"qty_{number}",
            f"How many: {words.spoken(item, packs * each)} is far out of range; up to {MOST_BOUGHT} would work.",
        )


def _item(number: int, item: str, shape: str, size: str, who: posting.Doing) -> Item:
    try:
        if shape:
            grade = steel_items.grade(item, new=True)
            return steel_items.bar_item(grade, steel_items.section(shape, size), at=who.at, by=who.by)
    except Invalid as refusal:
        names = {"grade": f"item_{number}", "size": f"size_{number}", "shape": f"shape_{number}"}
        refusal.fields = {names.get(name, name): sentence for name, sentence in refusal.fields.items()}
        raise
    found = Item.objects.filter(code__iexact=item, active=True).first()
    if found is None:
        raise Invalid.field(
            f"item_{number}", f"{item[:30]!r} is no item; choose one, or choose a shape where it is steel."
        )
    return found


def order_close(request: HttpRequest, number: int) -> HttpResponse:
    """Close a purchase order of which nothing more will come."""
    here, found = posting.here_of(request), deliveries.order(number)
    if found is None:
        return posting.not_there(here)
    form = CloseForm(sent(here), shop=shop_row.the_shop(), initial={"version": found.version})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.close(found, version=typed["version"], reason=typed["reason"], at=who.at, by=who.by)
        return to(found), f"Order {found.number} is closed; nothing more is expected of it."

    lead = f"{found.supplier.name}. What has not come is no longer expected."
    asked = Ask(f"Close order {number}", lead, "Close it", to(found), "Back to the order", room=ROOM, part="Close")
    return ask(here, form, asked, act)


def line_cancel(request: HttpRequest, number: int, line_number: int) -> HttpResponse:
    """Cancel what has not come of one line."""
    here, found = posting.here_of(request), deliveries.order(number)
    line = next((one for one in found.lines.all() if one.number == line_number), None) if found else None
    if found is None or line is None:
        return posting.not_there(here)
    form = CloseForm(sent(here), shop=shop_row.the_shop(), initial={"version": found.version})

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        purchasing.cancel_line(line, version=typed["version"], reason=typed["reason"], at=who.at, by=who.by)
        return to(found), f"Line {line_number} is cancelled; nothing more is expected of it."

    lead = f"{line.item.name}, {line.typed or line.qty}. The supplier is told by you."
    title = f"Cancel line {line_number} of order {number}"
    asked = Ask(title, lead, "Cancel it", to(found), "Back to the order", room=ROOM, part="Cancel")
    return ask(here, form, asked, act, names={"line": "reason"})


def sent(here: Any) -> Any:
    """Return what was typed, or nothing where the page is only looked at."""
    return here.POST if here.method == "POST" else None


def to(order: PurchaseOrder) -> str:
    """Return the address of an order."""
    return reverse("staff:door_order", args=[order.number])
