"""Starting a run: what is wanted, how many to start so that enough come good, and out of which mill heat."""

from dataclasses import dataclass

from django import forms
from django.db.models import F, Sum
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from inventory.models import Holding, Item, Lot, Melt, Run
from inventory.queries import along, bar_gives, learned
from inventory.queries.learned import HowMany
from inventory.services import starting
from inventory.services.starting import Start
from orders.models import OrderLine
from orders.queries import heads_wanted, making
from shop.access.middleware import Here
from shop.access.services import tablets
from shop.flows import floor as flow
from shop.shared import shop_row, units
from shop.staff import posting, signing, wording
from shop.staff.fields import Moment, SlipForm, Whole, Words
from shop.staff.views import floor_words as words
from shop.staff.views.floor import ROOM

SURE = (80, 90, 95)
OFFERED = 6
MADE = (Item.Kind.HEAD, Item.Kind.HANDLE)


@dataclass(frozen=True, slots=True)
class Stock:
    """Sawn blanks of one mill heat that lie free."""

    blank: Item
    melt: Melt | None
    free: int

    @property
    def key(self) -> str:
        """Return the value of the choice."""
        return f"{self.blank.pk}-{self.melt.pk if self.melt else 0}"


class StartForm(SlipForm):
    """How many are started, of which steel."""

    stock = forms.ChoiceField(label="Blanks of", widget=forms.RadioSelect)
    qty = Whole(label="Another number", required=False, most=starting.MOST)
    wanted = Whole(label="Good ones wanted", required=False, most=starting.MOST)
    note = Words(longest=200, label="Note", required=False)
    happened_at = Moment(label="Started at", help_text="Empty: now.")


def choose(request: HttpRequest) -> HttpResponse:
    """List what can be started: heads whose blanks lie sawn, those that orders wait for first; or lead to one of them."""
    here = posting.here_of(request)
    named = _made_into(here.GET.get("item", ""))
    if named is not None:
        filled = "?for=shelf" if here.GET.get("for") == "shelf" else ""
        return HttpResponseRedirect(reverse("staff:floor_start_one", args=[named.code]) + filled)
    heads = list(Item.objects.filter(kind__in=MADE, active=True, pattern__routes__isnull=False).distinct())
    wanted, shelf = heads_wanted.for_heads(heads), heads_wanted.for_the_shelf(heads)
    rows = []
    for head in sorted(heads, key=lambda one: (-wanted[one.pk], -shelf[one.pk], one.code)):
        blanks = sum(one.free for one in stocks(head))
        rows.append((head, wanted[head.pk], blanks, shelf[head.pk]))
    return posting.sheet(here, "staff/floor/start.html", ROOM, {"rows": rows})


def _made_into(code: str) -> Item | None:
    """Return the head that a run of an item begins with; nothing where no item that is made here is named."""
    item = Item.objects.filter(code=code, active=True).first() if code else None
    made = making.of(item) if item else None
    return made.head if made else None


def stocks(head: Item) -> list[Stock]:
    """Return the free blanks of a head's pattern by mill heat, the most first."""
    of_wood = head.kind == Item.Kind.HANDLE
    there = Holding.objects.filter(
        item__kind=Item.Kind.CONSUMABLE if of_wood else Item.Kind.BLANK, item__pattern=head.pattern_id,
        place__sellable=True, step=0, lot__melt__isnull=of_wood,
    )  # fmt: skip
    sums = there.order_by().values_list("item_id", "lot__melt_id").annotate(free=Sum(F("on_hand") - F("allocated")))
    found = [(blank, melt, int(free)) for blank, melt, free in sums if free > 0]
    blanks = Item.objects.in_bulk({blank for blank, _, _ in found})
    melts = Melt.objects.select_related("grade").in_bulk({melt for _, melt, _ in found if melt})
    made = (Stock(blanks[b], melts.get(m or 0), free) for b, m, free in found)
    return sorted(made, key=lambda one: (-one.free, one.key))


def start(request: HttpRequest, code: str) -> HttpResponse:
    """Ask how many to start, and start them."""
    here = posting.here_of(request)
    head = Item.objects.filter(code=code, kind__in=MADE).select_related("pattern").first()
    route = along.newest_route(head) if head else None
    if head is None or head.pattern is None or route is None:
        return posting.not_there(here)
    have, line = stocks(head), _line(here)
    shelf = _for_shelf(here, head, line)
    first = _first(have, min(shelf, head.pattern.most_run))
    form = StartForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop(), initial=first)
    form.fields["stock"].choices = [(one.key, _said(one)) for one in have]  # type: ignore[attr-defined]
    wanted = _asked(here, "wanted") or 0 if shelf else _wanted(here, head)
    sure = _sure(here)
    if here.method == "POST" and form.is_valid():
        done = signing.sign(here, form) and posting.book(
            here, form, lambda who: _book(head, have, form, who, here, wanted, sure, line),
            names={"blank": "stock", "melt": "stock"},
        )  # fmt: skip
        if done:
            return done
    facts = {**_facts(here, head, have, wanted, sure, line), "shelf": shelf, "rest_said": _rest_said(head, have, shelf)}
    return posting.sheet(here, "staff/floor/start_one.html", ROOM, facts, form=form)


def _first(have: list[Stock], shelf: int) -> dict[str, str]:
    """Fill in the most blanks of one mill heat, and what the shelf wants as far as these reach."""
    if not have:
        return {}
    return {"stock": have[0].key, "qty": str(min(shelf, have[0].free))} if shelf else {"stock": have[0].key}


def _for_shelf(here: Here, head: Item, line: OrderLine | None) -> int:
    """Return how many the week wants for the shelf, where the page was opened for that; else 0."""
    asked = here.POST.get("for") or here.GET.get("for")
    return heads_wanted.for_the_shelf([head])[head.pk] if asked == "shelf" and line is None else 0


def _rest_said(head: Item, have: list[Stock], shelf: int) -> str:
    """Say why fewer are filled in than the shelf wants; nothing where they are not."""
    assert head.pattern is not None
    free, most = have[0].free if have else 0, head.pattern.most_run
    if not have or min(free, most) >= shelf:
        return ""
    if free < most:
        return (
            f"Only {wording.figures(free)} of one mill heat lie sawn and free; what is not started stays in the week."
        )
    return f"A run takes up to {wording.figures(most)}; what is not started stays in the week."


def _said(one: Stock) -> str:
    if one.melt is None:
        return f"{wording.figures(one.free)} {one.blank.name}"
    heat = f"mill heat {one.melt.heat_number}" if one.melt.known else "mill heat unknown"
    return f"{wording.figures(one.free)} sawn, {one.melt.grade.code}, {heat}"


def _asked(here: Here, name: str) -> int | None:
    number = units.plain_number(here.POST.get(name) or here.GET.get(name))
    return number if number is not None and 0 < number <= starting.MOST else None


def _wanted(here: Here, head: Item) -> int:
    return _asked(here, "wanted") or heads_wanted.for_heads([head])[head.pk]


def _sure(here: Here) -> int:
    sure = _asked(here, "sure") or SURE[1]
    return sure if sure in SURE else SURE[1]


def _line(here: Here) -> OrderLine | None:
    number = _asked(here, "line")
    return OrderLine.objects.filter(pk=number, item=None).select_related("order").first() if number else None


def _book(
    head: Item, have: list[Stock], form: StartForm, who: posting.Doing, here: Here, wanted: int, sure: int,
    line: OrderLine | None,
) -> tuple[str, str]:  # fmt: skip
    typed = form.cleaned_data
    chosen = next(one for one in have if one.key == typed["stock"])
    qty = typed["qty"] or _asked(here, "start") or 0
    kind = Run.Kind.MADE_TO_ORDER if line else Run.Kind.SERIES
    asked = Start(head, chosen.blank, chosen.melt, qty, typed["wanted"] or wanted or None, sure, kind, typed["note"])
    before = heads_wanted.for_the_shelf([head])[head.pk]
    run = flow.start(asked, stamp=who.stamp(happened_at=typed["happened_at"]), for_line=line)
    strike = next((step for step in along.walk(run.route).steps if step.strike_code), None)
    where = f" Strike it at {strike.name}." if strike else ""
    return reverse("staff:floor"), f"Run {run.code}: {wording.figures(qty)} started.{_shared(head, before, qty)}{where}"


def _shared(head: Item, before: int, qty: int) -> str:
    """Say how what was started is shared between orders and shelf; nothing where the shelf wanted nothing."""
    left = heads_wanted.for_the_shelf([head])[head.pk]
    if not before:
        return ""
    taken = min(qty, before - left)
    said = f" {wording.figures(taken)} of them for the shelf"
    said += f", {wording.figures(qty - taken)} for orders, which come first" if taken < qty else ""
    return f"{said}; {wording.figures(left) if left else 'none'} for the shelf stay in the week."


def _facts(
    here: Here, head: Item, have: list[Stock], wanted: int, sure: int, line: OrderLine | None
) -> dict[str, object]:
    found = _how_many(head, wanted, sure, have) if wanted else None
    offered = [number for number, _ in found.table][-OFFERED:] if found else []
    chosen = found.sure.count if found and found.sure else None
    return {
        "head": head,
        "have": have,
        "wanted": wanted,
        "in_week": heads_wanted.for_the_shelf([head])[head.pk],
        "waited_for": heads_wanted.for_heads([head])[head.pk],
        "sure": sure,
        "sures": SURE,
        "line": line,
        "how_many": found,
        "offered": _offered(found, have) if found else [],
        "numbers": offered,
        "chosen": chosen,
        "plain_said": words.in_hundred(found.plain.chance) if found else "",
        "tiles": tablets.tiles()[:8] if here.tablet else [],
    }


def _offered(found: HowMany, have: list[Stock]) -> list[tuple[int, str]]:
    """Say of each number offered how often it is enough, and what it wants of the rack beyond the sawn blanks."""
    first = have[0] if have else None
    gives = bar_gives.of(first.blank, first.melt) if first and first.melt else None
    said = []
    for number, chance in found.table[-OFFERED:]:
        more = words.more_blanks(number, first.free, gives) if first and gives else ""
        said.append((number, f"{words.in_hundred(chance)}, {more}" if more else words.in_hundred(chance)))
    return said


def _how_many(head: Item, wanted: int, sure: int, have: list[Stock]) -> HowMany:
    route = along.newest_route(head)
    assert route is not None
    assert head.pattern is not None
    walk = along.walk(route)
    points = learned.ahead(learned.rates(head.pattern, walk), 0)
    return learned.how_many(min(wanted, 400), sure, points, around=[one.free for one in have if one.free <= 2 * wanted])


def open_run(request: HttpRequest, code: str) -> HttpResponse:
    """Give a code to heads that stand on the floor from before the book."""
    here = posting.here_of(request)
    lot = Lot.objects.filter(code=code, run=None).select_related("item__pattern", "melt").first()
    if lot is None:
        return posting.not_there(here)
    form = SlipForm(here.POST, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        run = flow.open_run(lot, stamp=who.stamp())
        return reverse("staff:floor"), f"Lot {lot.code} goes on as run {run.code}."

    done = posting.book(here, form, act) if form.is_valid() else None
    return done or posting.sheet(here, "staff/floor/refused.html", ROOM, {}, form=form)
