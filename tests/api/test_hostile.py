"""Hostile requests to every address: turned away with a sentence, nothing changed, and no failure of the service."""

import itertools
import json
from typing import Any

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client
from django.urls import resolve

from inventory.models import Item, RefusedDemand
from shop.api import describe, urls
from shop.shared.models import RequestKey
from tests.api.asking import Program, check_problem, data
from tests.api.sending import PDF, png
from tests.conftest import LONG
from tests.makers import AT, make_item, make_tool, put_in

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]

KEPT = json.loads(describe.FILE.read_text(encoding="utf-8"))
PLAIN = {
    "code": "HAM-2LB", "bar": "2", "grade": "1045", "number": "1", "line": "1", "id": "1", "day": "2026-03-02",
    "run": "K7", "step": "1", "price": "1",
}  # fmt: skip
ADDRESSES = {name: address.format(**PLAIN) for address in KEPT["paths"] for name in [address.removeprefix("/api/v1/")]}
READS = [name for name in ADDRESSES if "get" in KEPT["paths"][f"/api/v1/{name}"]]
WRITES = [
    (name, method.upper())
    for name in ADDRESSES
    for method in KEPT["paths"][f"/api/v1/{name}"]
    if method in {"post", "put", "patch"}
]
BODIES = {
    (name, method): KEPT["paths"][f"/api/v1/{name}"][method.lower()].get("requestBody", {}).get("content", {})
    for name, method in WRITES
}
FILES = [pair for pair in WRITES if "application/pdf" in BODIES[pair]]
WRITES = [pair for pair in WRITES if pair not in FILES and BODIES[pair]]
BIG = 10**30

QUERIES = [
    "nope=1", "limit=abc", "limit=0", "limit=-1", "limit=1001", "limit=" + "9" * 5000, f"limit={BIG}", "limit=1e400",
    "limit=NaN", "limit=%00", "limit=", "limit=1&limit=1", "cursor=p%3Dabc", "cursor=cD1hYmM%3D", "cursor=cD0A",
    "cursor=%00", "cursor=" + "a" * 601, "page=1", "offset=5", "ordering=nope", "ordering=-id", "format=json",
    "made__year=0", "made__year=99999", f"made__year={BIG}", "since__gte=9999-12-31T23:59:59-12:00",
    "since=9999-12-31T23:59:59-12:00", "since=0001-01-01T00:00:00%2B14:00", "since=2026-03-01T00:00:00",
    "since=2026-03-01", "since=2026-02-30T00:00:00Z", "since=2026-03-01T00:00:60Z", "since=%F0%9F%98%80",
    "customer=abc", f"customer={BIG}", "customer=" + "1" * 5000, "customer=-1", "order=0", "order=%D9%A1", f"order={BIG}",
    "state=nope", "state=", "kind=%00", "kind=nope", "left=maybe", "kept=no", "item=%00", "item=" + "A" * 31,
    "item=" + ",".join(f"A{n}" for n in range(501)), "item=A,A", "item=,", "reference=%00", "reference=" + "x" * 81,
    "heat_number=%0d%0aSet-Cookie:x", "supplier=%ff%fe", "grade=" + "x" * 21, "id__in=1,2", "__proto__=1",
    "access_token=bkn_x", "callback=alert(1)", "_method=DELETE", "%00=1", "%ff=1", "=", "&".join(f"p{n}=1" for n in range(2500)),
]  # fmt: skip
PATHS = [
    "%00", "%0a", "-1", "0", "00001", "1.5", "1e5", "abc", "9" * 5000, str(BIG), "%F0%9F%98%80", "%ff", "..", "%2e%2e",
    "1%2F2", "1;2", "'", "1'%20OR%20'1'='1", "<script>", "HAM 2LB", "ham-2lb", "A" * 31, "=1+1", "9999-99-99", "0000-01-01",
    "2026-3-1", "null", "undefined", "NaN", "%E2%80%AE", "1/", "1?x", "1%00", "99999999999999999999",
]  # fmt: skip
BODIES = [
    b"", b" ", b"null", b"true", b"0", b'""', b"[]", b"[[]]", b'"text"', b"{", b"{}x", b"\x00", b"\xff\xfe", b"{'a':1}",
    b'{"a":1}', b'{"__proto__":{"a":1}}', b"[" * 100_000, b"[" * 5_000 + b"]" * 5_000, b'{"a":' * 100_000,
    b'{"item":NaN}', b'{"item":Infinity}', b'{"item":1,"item":2}', b'{"item":"\\ud800"}', b'{"\\udc00":1}',
    b'{"item":"\\u0000"}', b'{"item":"a\x00b"}', b'{"item":' + b"9" * 5000 + b"}", b'{"item":1e400}',
    b'{"item":1E+999999999}', b'{"item":-0}', '{"item":"é"}'.encode("latin-1"), "\ufeff{}".encode(), b'{"item":"' + b"a" * 1_048_576 + b'"}',
    b"a=1&b=2", b"--x\r\n\r\n--x--", b"<x/>",
]  # fmt: skip
ODD: list[Any] = [
    None, True, False, 0, -1, 1, 1.5, BIG, -BIG, 1e308, "", " ", "\t", "0", "-1", "1e9", "NaN", "Infinity", "½", "٣", "a" * 5000,
    "\u202e", "\ufeff", "\x7f", "=1+1", "' OR 1=1 --", "<script>", "../../etc/passwd", "9999-12-31", "0000-00-00",
    "2026-02-30", "9999-12-31T23:59:59-12:00", "2026-03-01T00:00:60Z", "1000000000000", "0.0000001", [], [[]], {}, {"a": 1},
    [None], ["x"] * 600, {"id": BIG}, {"id": "1"}, {"id": -1}, {"name": "\u0007"}, [{}], [{"line": BIG, "quantity": "1"}],
    [{"line": 1, "quantity": "9" * 40}], [{"line": 0, "quantity": "1"}], [{"item": "HAM-2LB", "quantity": "1", "x": 1}],
]  # fmt: skip


@pytest.fixture
def program() -> Program:
    """A shop with one of everything that the addresses name."""
    made = Program()
    put_in(make_tool(code="HAM-2LB").item, 50)
    put_in(make_item(Item.Kind.BAR, code="BAR-1"), 5_000_000_000)
    body = {"customer": {"name": "Invented"}, "lines": [{"item": "HAM-2LB", "quantity": "4"}]}
    data(made.post("orders", body), 201)
    data(made.post("holds", {"item": "HAM-2LB", "quantity": "1"}), 201)
    assert AT.year == 2026
    return made


def everything() -> dict[str, list[Any]]:
    """Return every row of every table, but for the moment a key was last used."""
    left_out = {"last_used_at", "password"}
    return {
        model._meta.label: list(
            model._default_manager.order_by("pk").values_list(
                *[field.attname for field in model._meta.concrete_fields if field.attname not in left_out]
            )
        )
        for app in ("shared", "access", "inventory", "orders")
        for model in apps.get_app_config(app).get_models()
        if model not in {RequestKey, RefusedDemand}  # answers kept, and what was asked for in vain
    }


@pytest.mark.parametrize("name", READS)
def test_a_hostile_query_is_turned_away(program: Program, name: str) -> None:
    # The usual run asks every third query at each address, others at the next; --long all.
    for query in QUERIES if LONG else QUERIES[READS.index(name) % 3 :: 3]:
        response = program.get(f"{ADDRESSES[name]}?{query}")
        parameter = query.partition("=")[0]
        declared = {
            p["name"] for p in KEPT["paths"][f"/api/v1/{name}"]["get"].get("parameters", []) if p["in"] == "query"
        }
        harmless = parameter in declared and response.status_code in {200, 404}
        assert response.status_code == 400 or harmless, (query, response.status_code)
        assert response.status_code != 200 or parameter in declared


@pytest.mark.parametrize("name", [name for name in ADDRESSES if "{" in name])
def test_a_hostile_address_leads_nowhere(program: Program, name: str) -> None:
    before = everything()
    # The usual run tries a third of the parts at each address, another third at the next; --long all.
    parts = PATHS if LONG else PATHS[list(ADDRESSES).index(name) % 3 :: 3]
    for part, method in itertools.product(parts, ("GET", "POST", "PUT", "PATCH", "DELETE")):
        for place in [piece for piece in name.split("/") if piece.startswith("{")]:
            filled = "/".join(
                part if piece == place else piece.format(**PLAIN) if piece.startswith("{") else piece
                for piece in name.split("/")
            )
            response = program.ask(
                method, filled, raw=b"{}" if method in {"POST", "PUT", "PATCH"} else b"", If_Match='"0"'
            )
            assert 400 <= response.status_code < 500, (filled[:80], response.status_code)
    assert everything() == before


@pytest.mark.parametrize(("name", "method"), WRITES)
def test_a_hostile_body_changes_nothing(program: Program, name: str, method: str) -> None:
    before = everything()
    for raw in BODIES:
        response = program.ask(method, ADDRESSES[name], raw=raw, Content_Type="application/json", If_Match="*")
        assert response.status_code in ({400, 413, 422} if raw else {415}), (raw[:60], response.status_code)
    assert everything() == before


@pytest.mark.parametrize(("name", "method"), FILES)
def test_a_hostile_file_changes_nothing(program: Program, name: str, method: str) -> None:
    before = everything()
    broken = [*BODIES, *(start + body for start in (b"%PDF-1.4\n", b"\xff\xd8\xff", png()[:40]) for body in BODIES)]
    for kind, ending in (("application/pdf", "pdf"), ("image/jpeg", "jpg"), ("image/png", "png")):
        for raw in broken:
            response = program.ask(method, f"{ADDRESSES[name]}?name=a.{ending}", raw=raw, Content_Type=kind)
            assert response.status_code in ({413, 422} if raw else {415}), (raw[:60], response.status_code)
    for query in QUERIES:
        for address in (f"{ADDRESSES[name]}?{query}", f"{ADDRESSES[name]}?name=a.pdf&{query}"):
            response = program.ask(method, address, raw=PDF, Content_Type="application/pdf")
            assert response.status_code in {400, 404}, (query, response.status_code)
    assert everything() == before


@pytest.mark.parametrize(("name", "method"), WRITES)
def test_an_odd_value_in_any_field_changes_nothing(program: Program, name: str, method: str) -> None:
    operation = resolve(f"{ADDRESSES[name]}").func.view_class.operations[method]  # type: ignore[attr-defined]
    good = dict(operation.example)
    before = everything()
    for place, field in enumerate(operation.body().fields):
        # The usual run tries a twelfth of the odd values in each field, another twelfth in the next; --long all.
        for value in ODD if LONG else ODD[place % 12 :: 12]:
            mark = transaction.savepoint()
            response = program.ask(method, ADDRESSES[name], good | {field: value}, If_Match="*")
            assert response.status_code < 500, (field, value)
            if response.status_code < 400:  # it was a value that can be used after all: take it back
                transaction.savepoint_rollback(mark)
        assert everything() == before, field


def test_every_address_answers_every_method_with_what_it_does_or_with_what_it_would(program: Program) -> None:
    methods = ("GET", "POST", "PUT", "PATCH", "DELETE", "TRACE", "PROPFIND")
    for name, method in itertools.product(ADDRESSES, methods):
        known = KEPT["paths"][f"/api/v1/{name}"]
        mark = transaction.savepoint()
        response = program.ask(method, ADDRESSES[name], If_Match='"0"')
        if method.lower() in known:
            assert response.status_code < 500, (name, method)
        else:
            assert response.status_code == 405, (name, method)
            assert {word.lower() for word in response["Allow"].split(", ")} - {"head", "options"} == set(known), name
        transaction.savepoint_rollback(mark)  # each method finds the shop as it was


def test_no_address_answers_without_a_key_or_without_its_scope(program: Program) -> None:
    nobody = Program("addresses:read")  # shows more of what another scope reads; opens nothing by itself
    for name, address in ADDRESSES.items():
        for method in KEPT["paths"][f"/api/v1/{name}"]:
            response = nobody.ask(method.upper(), address, If_Match="*")
            assert response.status_code == (200 if name == "me" else 403), (name, method)
            without = Client().generic(method.upper(), address)
            assert without.status_code == 401, (name, method)
            check_problem(without)


def test_the_cases_cover_every_address() -> None:
    assert len(ADDRESSES) == len(urls.described)
