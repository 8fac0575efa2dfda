"""Papers of the Counter and the Shelf: the packing slip and the count sheet."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.queries import shelf
from orders.models import Shipment, ShipmentLine
from orders.queries import book
from shop.shared import shop_row, units
from shop.staff import posting, wording


def packing_slip(request: HttpRequest, number: int) -> HttpResponse:
    """Print the packing slip of a shipment; one for a gift shows no price and names the giver."""
    here, found = posting.here_of(request), book.find_shipment(number)
    if found is None:
        return posting.not_there(here)
    large = here.GET.get("paper") == "a4"
    facts = {
        "shipment": found,
        "order": found.order,
        "lines": [_line(found, sent) for sent in found.lines.all()],
        "cautions": cautions(found),
        "large": large,
    }
    return render(here, "staff/paper/packing_slip.html", facts)


def _line(found: Shipment, sent: ShipmentLine) -> dict[str, object]:
    gift = found.order.gift
    currency = shop_row.the_shop().currency
    return {
        "qty": wording.figures(sent.qty),
        "name": wording.line_name(sent.line),
        "struck": ", ".join(shipped.lot.code for shipped in sent.lots.all()),
        "price": "" if gift else units.money(sent.line.price_minor, currency),
        "sum": "" if gift else units.money(sent.line.price_minor * sent.qty, currency),
    }


def cautions(found: Shipment) -> list[str]:
    """Return the cautions of what is in the box, each once."""
    said = [sent.line.item.caution for sent in found.lines.all() if sent.line.item and sent.line.item.caution]
    return list(dict.fromkeys(said))


def count_sheet(request: HttpRequest) -> HttpResponse:
    """Print a sheet to count by: what stands where, with room for the figure found."""
    return render(request, "staff/paper/count_sheet.html", {"rows": shelf.to_count()})
