"""Releases at the Counter: the list, one release with its orders, and orders pasted in."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from orders.models import Release
from orders.queries import availability, book
from orders.queries import releases as queries
from orders.queries.releases import Standing
from orders.services import releases as services
from shop.flows import releasing
from shop.shared import shop_row
from shop.staff import posting, wording
from shop.staff.ruled import Column, Ruled
from shop.staff.views.asking import Ask, ask
from shop.staff.views.counter_history import link
from shop.staff.views.release_forms import EXAMPLE, FORMAT, BeginForm, EndForm, MomentsForm, PasteForm, names

_MOST = 100


def releases(request: HttpRequest) -> HttpResponse:
    """List the releases; begin one."""
    here, shop = posting.here_of(request), shop_row.the_shop()
    form = BeginForm(here.POST if here.method == "POST" else None, shop=shop)

    def act(who: posting.Doing) -> tuple[str, str]:
        typed = form.cleaned_data
        made = services.begin(
            typed["name"],
            typed["item"],
            typed["qty"],
            opens_at=typed["opens_at"] or who.at,
            closes_at=typed["closes_at"],
            at=who.at,
            by=who.by,
        )
        row = queries.standing([made], at=who.at)[0]
        waits = f", {wording.figures(row.waits)} wait in the queue" if row.waits else ""
        said = f"{wording.figures(row.left)} are set aside for the release {made.name}{waits}."
        return reverse("staff:release", args=[made.pk]), said

    lead = "Pieces kept for a sale on the web from a moment on. Nobody else can be promised them."
    back = reverse("staff:counter")
    now = posting.doing(here).at
    rows = queries.standing(list(queries.listed()[:_MOST]), at=now)
    asked = Ask("Releases", lead, "Keep them", back, "Back to the Counter", part="A new release", table=_list(rows))
    promised = [one for one in availability.of(None, at=now) if one.item.unit == "piece" and one.item.kind != "bar"]
    return ask(here, form, asked, act, names=names(), facts={"promised": promised})


def _list(rows: list[Standing]) -> Ruled:
    zone = shop_row.the_shop().zone
    figures = [Column(head, figures=True) for head in ("left", "to come", "taken")]
    columns = [Column("release"), Column("what"), Column("is"), Column("opens"), *figures]
    cells = [
        [
            link("staff:release", row.release.name, row.release.pk),
            row.item.name,
            row.state,
            wording.at_moment(row.release.opens_at, zone),
            wording.figures(row.left),
            wording.figures(row.waits),
            wording.figures(row.taken),
        ]
        for row in rows
    ]
    return Ruled("Releases so far", columns, cells)


def release(request: HttpRequest, number: int) -> HttpResponse:
    """Show a release and the orders out of it; change its moments, or end it."""
    here, found, shop = posting.here_of(request), queries.find(number), shop_row.the_shop()
    if found is None:
        return posting.not_there(here)
    ending = here.method == "POST" and here.POST.get("what") == "end"
    first = MomentsForm.typed_already(found, shop.zone)
    form = MomentsForm(here.POST if here.method == "POST" and not ending else None, shop=shop, initial=first)
    end = EndForm(here.POST if ending else None, shop=shop)
    chosen = end if ending else form
    if here.method == "POST" and chosen.is_valid():
        done = posting.book(here, chosen, lambda who: _end(found, who) if ending else _change(found, form, who))
        if done:
            return done
    row = queries.standing([found], at=posting.doing(here).at)[0]
    facts = {
        "release": found,
        "row": row,
        "said": _said(row, shop.zone),
        "orders": _orders(found),
        "moments": form,
        "end": end,
        "is_open": row.state == queries.OPEN,
    }
    return posting.sheet(here, "staff/counter/release.html", "counter", facts, form=chosen)


def _change(found: Release, form: MomentsForm, who: posting.Doing) -> tuple[str, str]:
    typed = form.cleaned_data
    opens = typed["opens_at"] or who.at
    made = services.change(
        found, name=typed["name"], opens_at=opens, closes_at=typed["closes_at"], at=who.at, by=who.by
    )
    return reverse("staff:release", args=[made.pk]), f"The release {made.name} is changed."


def _end(found: Release, who: posting.Doing) -> tuple[str, str]:
    made = services.end(found, at=who.at, by=who.by)
    said = f"The release {made.name} is ended; what was left goes to those who wait."
    return reverse("staff:release", args=[made.pk]), said


def paste(request: HttpRequest, number: int) -> HttpResponse:
    """Take orders of a release that are pasted in, all of them or none."""
    here, found = posting.here_of(request), queries.find(number)
    if found is None:
        return posting.not_there(here)
    form = PasteForm(here.POST if here.method == "POST" else None, shop=shop_row.the_shop())

    def act(who: posting.Doing) -> tuple[str, str]:
        taken = releasing.take_all(found, form.cleaned_data["pasted"], at=who.at, by=who.by)
        many = f"{len(taken)} orders are taken" if len(taken) > 1 else "1 order is taken"
        return reverse("staff:release", args=[found.pk]), f"{many} out of the release {found.name}."

    row = queries.standing([found], at=posting.doing(here).at)[0]
    lead = (
        f"{wording.figures(row.left)} × {row.item.name} are left. One order a line, four parts with semicolons between: "
        f"{FORMAT}. For example: {EXAMPLE}. Nothing is booked until every line can be used."
    )
    back = reverse("staff:release", args=[found.pk])
    asked = Ask(f"Orders of the release {found.name}", lead, "Take them all", back, "Back to the release", part="Paste")
    return ask(here, form, asked, act, names={"qty": "pasted"})


def _said(row: Standing, zone: str) -> str:
    made = row.release
    opens = f"opens at {wording.at_moment(made.opens_at, zone)}"
    closes = (
        f"closes at {wording.at_moment(made.closes_at, zone)}" if made.closes_at else "stays open until it is ended"
    )
    if row.state == queries.ENDED and made.ended_at:
        return f"It was ended at {wording.at_moment(made.ended_at, zone)}."
    if row.state == queries.TO_COME:
        return f"It {opens} and {closes}."
    if row.state == queries.CLOSED and made.closes_at:
        return f"It closed at {wording.at_moment(made.closes_at, zone)}; end it, and the rest goes to those who wait."
    return f"It is {row.state} and {closes}."


def _orders(found: Release) -> Ruled:
    columns = [Column("order"), Column("for"), Column("what"), Column("how far")]
    cells = []
    for row in book.rows(list(queries.orders_of(found)[: releasing.MOST_PASTED])):
        sent = sum(line.shipped for line in row.lines)
        stands = wording.stands(row.owed, row.set_aside, row.to_make, sent)
        number = link("staff:order", str(row.order.number), row.order.number)
        cells.append([number, row.order.customer.name, wording.what(row.lines), stands])
    return Ruled(f"Orders out of {found.name}", columns, cells)
