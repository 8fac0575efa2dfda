"""The floor that the API is measured against: what a person would write by hand for one address and nothing else.

Plain Django views without the framework of the API, without services, checks of input or a description; with the same
look-up of the key, the same queries and the same JSON: the benches compare the bodies before they measure. They run in
the same server behind the same middleware.
"""

import datetime as dt
import hashlib
import json
from collections import defaultdict

from django.db import transaction
from django.db.models import Count, F, Max, Sum
from django.http import HttpRequest, HttpResponse
from django.views.decorators.csrf import csrf_exempt

from inventory.models import Allocation, AllocationPart, Holding, Item, ItemStock, RecipePart
from orders.models import Hold, OrderLine
from shop.access.models import ApiKey
from shop.access.services import keys
from shop.shared import clock
from shop.shared.models import RequestKey

COLUMNS = ("id", "code", "name", "kind", "unit", "active", "reorder_point")


def one(request: HttpRequest, code: str) -> HttpResponse:
    """Answer what can be promised of one item."""
    at = clock.now()
    if _key(request, at, "availability:read") is None:
        return HttpResponse(status=401)
    item = Item.objects.filter(code=code).values_list(*COLUMNS).first()
    if item is None:
        return HttpResponse(status=404)
    recipe = list(RecipePart.objects.filter(tool_id=item[0]).order_by("part_id").values_list("part_id", "quantity"))
    rows = _rows(at, [item[0], *(part for part, _ in recipe)])
    return _json(_figures(item, recipe, rows)[0], request)


def every(request: HttpRequest) -> HttpResponse:
    """Answer what can be promised of every item."""
    at = clock.now()
    if _key(request, at, "availability:read") is None:
        return HttpResponse(status=401)
    sold = Item.objects.exclude(kind="bar").filter(active=True)
    items = list(sold.order_by("code", "id").values_list(*COLUMNS))
    recipes = defaultdict(list)
    for tool, part, quantity in RecipePart.objects.order_by("tool_id", "part_id").values_list(
        "tool_id", "part_id", "quantity"
    ):
        recipes[tool].append((part, quantity))
    rows = _rows(at, None)
    found = [_figures(item, recipes.get(item[0], []), rows) for item in items]
    version = hashlib.blake2b(" ".join(body["stock_version"] for body, _ in found).encode(), digest_size=9).hexdigest()
    as_of = max((moment for _, moment in found if moment), default=None)
    return _json({"rows": [body for body, _ in found], "stock_version": version, "as_of": _moment(as_of)}, request)


@csrf_exempt
def hold(request: HttpRequest) -> HttpResponse:
    """Put pieces of one item by: one piece of work under one request key, the item's row locked first."""
    at = clock.now()
    key = _key(request, at, "orders:write")
    if key is None:
        return HttpResponse(status=401)
    said = json.loads(request.body)
    with transaction.atomic(durable=True):
        kept = RequestKey(
            client=f"key {key.prefix}", method="POST", path=request.path, key=request.META["HTTP_IDEMPOTENCY_KEY"],
            fingerprint=hashlib.sha256(request.body).hexdigest(), created_at=at,
        )  # fmt: skip
        RequestKey.objects.bulk_create([kept], ignore_conflicts=True)
        kept = RequestKey.objects.get(client=kept.client, method="POST", path=kept.path, key=kept.key)
        if kept.status is not None:
            return HttpResponse(kept.body, status=kept.status, content_type="application/json")
        item_id = Item.objects.filter(code=said["item"]).values_list("id", flat=True).get()
        with transaction.atomic():
            made = _put_by(item_id, int(said["quantity"]), at, at + dt.timedelta(minutes=said["minutes"]), kept.client)
        text = json.dumps(_hold_body(made, said["item"]), ensure_ascii=False, separators=(",", ":"))
        RequestKey.objects.filter(pk=kept.pk).update(status=201, body=text, headers={})
    return HttpResponse(text, status=201, content_type="application/json")


def _key(request: HttpRequest, at: dt.datetime, scope: str) -> ApiKey | None:
    found = keys.find(request.META.get("HTTP_AUTHORIZATION", "").removeprefix("Bearer "), at=at)
    if found is None or scope not in found.scopes:
        return None
    keys.note_use(found, at=at)
    return found


def _rows(at: dt.datetime, ids: list[int] | None) -> dict[int, tuple]:
    stock = ItemStock.objects.all()
    lapsed_parts = AllocationPart.objects.filter(open=True, allocation__closed_at=None, allocation__expires_at__lte=at)
    if ids is not None:
        stock = stock.filter(pk__in=ids)
        lapsed_parts = lapsed_parts.filter(item_id__in=ids)
    lapsed = {
        row[0]: row[1:]
        for row in lapsed_parts.values_list("item_id").annotate(
            qty=Sum("qty"), count=Count("allocation_id", distinct=True), last=Max("allocation__expires_at")
        )
    }
    columns = ("item_id", "sellable", "allocated", "waiting", "version", "changed_at")
    return {row[0]: (*row[1:], *lapsed.get(row[0], (0, 0, None))) for row in stock.values_list(*columns)}


def _figures(item: tuple, recipe: list[tuple[int, int]], rows: dict[int, tuple]) -> tuple[dict, dt.datetime | None]:
    item_id, code, name, kind, unit, active, reorder_point = item
    sellable, allocated, waiting, version, changed, expired, count, last = rows[item_id]
    made, tag, moments = 0, f"{item_id}:{version}:{count}:0:0", [moment for moment in (changed, last) if moment]
    if recipe:
        sets = []
        for part, per in recipe:
            s, a, w, v, c, e, n, m = rows[part]
            sets.append(max(0, s - a + e - w) // per)
            tag += f";{part}:{v}:{n}:0:0"
            moments += [moment for moment in (c, m) if moment]
        made = min(sets)
    as_of = max(moments) if moments else None
    can = max(0, sellable - allocated + expired + made - waiting)
    if not active:
        state = "Discontinued"
    elif can:
        state = "LimitedAvailability" if reorder_point is not None and can <= reorder_point else "InStock"
    else:
        state = "BackOrder" if kind in ("tool", "head", "blank") else "OutOfStock"
    body = {
        "item": code,
        "name": name,
        "kind": kind,
        "unit": unit,
        "can_promise": str(can),
        "of_which_from_parts": str(min(made, can)),
        "state": f"https://schema.org/{state}",
        "stock_version": hashlib.blake2b(tag.encode(), digest_size=9).hexdigest(),
        "as_of": _moment(as_of),
    }
    return body, as_of


def _moment(at: dt.datetime | None) -> str | None:
    return at.isoformat().replace("+00:00", "Z") if at else None


def _json(body: dict, request: HttpRequest) -> HttpResponse:
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"))
    etag = f'"{hashlib.sha256(text.encode()).hexdigest()[:32]}"'
    if request.META.get("HTTP_IF_NONE_MATCH") == etag:
        return HttpResponse(status=304, headers={"ETag": etag})
    return HttpResponse(text, content_type="application/json", headers={"ETag": etag})


def _hold_body(hold: Hold, code: str) -> dict:
    return {
        "id": hold.pk,
        "version": "1",
        "kind": hold.kind,
        "state": "open",
        "item": code,
        "quantity": str(hold.qty),
        "unit": "piece",
        "name": "",
        "made_at": _moment(hold.made_at),
        "until": _moment(hold.until),
        "order": None,
    }


def _put_by(item_id: int, qty: int, at: dt.datetime, until: dt.datetime, made_by: str) -> Hold:
    # What a write may reach: parts, tools that wait for them, lapsed holds. Nothing more is found for a plain item.
    reach = {item_id}
    reach |= set(RecipePart.objects.filter(tool_id=item_id).values_list("part_id", flat=True))
    waiting = OrderLine.objects.filter(gathers=True, item__recipe__part_id=item_id)
    reach |= set(waiting.values_list("item_id", flat=True))
    lapsed = AllocationPart.objects.filter(
        open=True, item_id=item_id, allocation__closed_at=None, allocation__expires_at__lte=at
    )
    together = AllocationPart.objects.filter(open=True, allocation_id__in=lapsed.values("allocation_id"))
    reach |= set(together.values_list("item_id", flat=True))
    for stock_id in sorted(reach):
        ItemStock.objects.filter(pk=stock_id).update(version=F("version") + 1, changed_at=at)
    ended = Allocation.objects.filter(closed_at=None, expires_at__lte=at, parts__item_id__in=reach).distinct()
    for allocation in ended.order_by("id"):
        raise RuntimeError(f"Allocation {allocation.pk} has lapsed; the bench's holds last longer than the bench.")
    row = ItemStock.objects.get(pk=item_id)
    if row.sellable - row.allocated < qty:
        raise RuntimeError("The bench put too little in.")
    allocation = Allocation.objects.create(made_at=at, expires_at=until)
    left = qty
    free = Holding.objects.filter(item_id=item_id, place__sellable=True, step=0, on_hand__gt=F("allocated"))
    for holding in free.order_by("lot_id", "id").iterator(chunk_size=50):
        take = min(left, holding.on_hand - holding.allocated)
        Holding.objects.filter(pk=holding.pk).update(allocated=F("allocated") + take)
        AllocationPart.objects.create(allocation=allocation, holding=holding, item_id=item_id, qty=take)
        left -= take
        if not left:
            break
    ItemStock.objects.filter(pk=item_id).update(allocated=F("allocated") + qty)
    return Hold.objects.create(
        kind=Hold.Kind.MINUTES,
        item_id=item_id,
        qty=qty,
        until=until,
        allocation=allocation,
        made_at=at,
        made_by=made_by,
    )
