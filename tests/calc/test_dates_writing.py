"""A shop is written as the document that is read, whole or not at all; kept short, it is the same document again."""

import base64
import contextlib
import dataclasses
import datetime as dt
import json
import zlib
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates.asking import ask
from orders.calc.dates.chance import Law
from orders.calc.dates.route import Oven, Step
from orders.calc.dates.state import (
    DAY,
    Batch,
    Coming,
    ForShelf,
    Hours,
    Line,
    Machine,
    Person,
    Pin,
    Shop,
    Spells,
    Supplier,
)
from orders.calc.dates_json import answering, reading
from orders.calc.dates_json.example import EXAMPLE
from orders.calc.dates_json.keys import SECTIONS, SHOP
from orders.calc.dates_json.writing import document, pack, unpack
from tests.calc.dates_making import MONDAY, product
from tests.calc.dates_strategies import shops

PROMISES = [{"ask": "promises"}]
AXE = product("axe", Step(1, "forged", 60, tooling="D1", uses=(("handle", 1.0),), machines=("ANVIL",)))
SMALL = Shop(Hours(MONDAY), (Person("A"),), (Machine("ANVIL"),), (AXE,), {"handle": 9}, lines=(Line("1", "axe", 2),))


def read_back(shop: Shop, **more: Any) -> Shop:
    return reading.read(json.dumps(document(shop, questions=PROMISES, **more))).shop


def readable(shop: Shop) -> Shop:
    """Take out of a drawn shop what no document names: pins on steps that are not there, tooling that no step takes."""
    products = {one.item: one for one in shop.products}
    items = {one.code: one.item for one in shop.batches} | {f"{item}+1": item for item in products}
    pins = {
        (pin.run, pin.step): replace(pin, day=max(0, pin.day))
        for pin in shop.pins
        if pin.step in {step.number for step in products[items[pin.run]].steps}
    }
    tooling = {step.tooling for one in shop.products for step in one.steps if step.tooling}
    used = {code: name for code, name in shop.tooling_in.items() if name in tooling}
    return replace(shop, pins=tuple(pins.values()), tooling_in=used)


@given(shops)
@settings(max_examples=60, deadline=None)
def test_a_shop_that_is_written_and_read_is_the_same_shop(shop: Shop) -> None:
    shop = readable(shop)
    assert read_back(shop) == shop


@given(shops)
@settings(max_examples=60, deadline=None)
def test_a_shop_is_read_as_it_was_written_or_not_written_at_all(shop: Shop) -> None:
    with contextlib.suppress(ValueError):
        assert read_back(shop) == shop


@given(shops, st.integers(1, 9))
@settings(max_examples=15, deadline=None)
def test_a_document_gives_the_answer_that_the_shop_gives(shop: Shop, pieces: int) -> None:
    shop = readable(shop)
    question = {"ask": "when", "order": "asked", "lines": [{"item": "tool0", "pieces": pieces}]}
    asked = reading.read(json.dumps(document(shop, name="kept", seed=5, futures=100, questions=[question])))
    line = Line("asked", "tool0", pieces)
    here, there = (ask(one, [line], sure=0.9, seed=5, futures=100) for one in (shop, asked.shop))
    assert (here.curve, here.promises, here.holds, here.replanned) == (
        there.curve, there.promises, there.holds, there.replanned,
    )  # fmt: skip
    (said,) = answering.answered(asked)["answers"]
    day = here.curve.day(0.9)
    assert said["day"] == (None if day is None else (shop.hours.first_day + dt.timedelta(days=day)).isoformat())
    assert said["promises"] == [
        {"order": one.order, "day": (MONDAY + dt.timedelta(days=one.day)).isoformat(), "before": one.before,
         "after": one.after}
        for one in here.promises
    ]  # fmt: skip


def test_the_example_is_written_as_it_was_read() -> None:
    asked = reading.read(EXAMPLE)
    said = document(asked.shop, name=asked.name, seed=asked.seed, futures=asked.futures, questions=asked.raw)
    again = reading.read(json.dumps(said))
    assert (again.shop, again.questions, again.name, again.seed, again.futures) == (
        asked.shop, asked.questions, asked.name, asked.seed, asked.futures,
    )  # fmt: skip
    assert said["batches"] == json.loads(EXAMPLE)["batches"]
    assert said["hours"] == {"first_day": "2026-12-01", "closed": ["2026-12-25", "2027-01-01"]}, "the rest is as usual"
    assert said["people"] == json.loads(EXAMPLE)["people"]


def test_every_field_of_the_state_is_written_in_its_own_way() -> None:
    odd = Shop(
        Hours(MONDAY, (0, 2, 6), 7, DAY, 0.5, frozenset({MONDAY}), (1,), 0),
        (Person("A", frozenset({0, 9}), Spells(0.1, (1, 2)), 3),),
        (Machine("ANVIL", frozenset({2}), Spells(0.2), 2 * DAY), Machine("OVEN")),
        (
            product(
                "axe",
                Step(
                    2, "s", 1.5, Law("pert", (0.0, 1.0, 2.0)), 0.1, 2.0, "D", 3.0, 2, ("A",), ("OVEN",), 9.0, 1.0, 0.5,
                    2.5, 7, None, Oven(0.5, 1, 2, "k", True), (("handle", 0.5), ("rope", 2.0)),
                ),
                made_from="rope", usual=3, most=4, bar_gives=2,
            ),
        ),
        {"handle": 0}, (Batch("b", "axe", 2, 5, DAY + 61, True, 0.5, ("A",)),), (Coming("rope", 4, -7, "mill"),),
        (Supplier("mill", (-1, 0), 0),), {"handle": "mill"},
        (Line("1", "axe", 0, -3, 0.5, True), Line("2", "axe", 1, 30)), (Pin("axe+1", 2, 3),), {"OVEN": "D"},
        0, 1, 0.3, 0, 0.5, 0.0, 90, (ForShelf("axe", 9),),
    )  # fmt: skip
    said = document(odd)
    for key in SHOP:
        assert key in said, key
    plain = {kind: {one.name for one in dataclasses.fields(kind)} for kind, _ in SECTIONS.values()}
    step = said["products"][0]["steps"][0]
    assert set(step) == plain[Step] - {"fire"}
    assert (said["now"], said["lorry"], said["hours"]["closes"]) == ("00:00", "00:01", "24:00")
    assert said["batches"][0]["ready"] == "2026-03-03T01:01"
    assert said["coming"][0]["day"] == "2026-02-23"
    assert said["hours"]["weekdays"] == ["Mon", "Wed", "Sun"]
    assert read_back(odd) == odd


WRONG = [
    (replace(SMALL, pins=(Pin("axe+1", 1, -1),)), "pins[0].day: the document cannot carry -1; it would be read as 0"),
    (replace(SMALL, pins=(Pin("axe+1", 7, 1),)), "pins[0].step: no step 7"),
    (replace(SMALL, people=(Person("A", frozenset({-3})),)), "people[0].out: the document cannot carry"),
    (replace(SMALL, people=(Person("A", frozenset({10**9})),)), "people[0].out: the document cannot carry"),
    (replace(SMALL, hours=replace(SMALL.hours, weekdays=(4, 0))), "hours.weekdays: the document cannot carry (4, 0)"),
    (replace(SMALL, hours=replace(SMALL.hours, opens=480.5)), "hours.opens: the document cannot carry 480.5"),
    (replace(SMALL, hours=replace(SMALL.hours, closed=frozenset({dt.date(1999, 1, 1)}))), "hours.closed[0]: no day"),
    (replace(SMALL, stock={"handle": -1}), "stock.handle: -1 does not fit"),
    (replace(SMALL, stock={"handle": np.int64(3)}), "stock.handle: the document cannot carry"),
    (replace(SMALL, starts_sure=np.float32(0.5)), "starts_sure: the document cannot carry"),
    (replace(SMALL, unrest=float("nan")), "unrest: no number that counts anything"),
    (replace(SMALL, lines=(Line("1", "rope", 2),)), "lines[0].item: 'rope' is none of the items"),
    (replace(SMALL, lines=(Line("", "axe", 2),)), "lines[0].order: no name"),
    (replace(SMALL, lines=(Line("1", "axe", 1, 3), Line("1", "axe", 1, 4))), "lines[1].day"),
    (replace(SMALL, tooling_in={"ANVIL": "D7"}), "tooling_in.ANVIL"),
    (
        replace(SMALL, products=(replace(AXE, steps=(Step(1, "s", uses=(("rope", 1.0), ("handle", 1.0))),)),),
                stock={"handle": 1, "rope": 1}),
        "products[0].steps[0].uses: the document cannot carry",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("shop", "said"), WRONG, ids=[said.split(":")[0] for _, said in WRONG])
def test_what_a_document_cannot_carry_is_refused_with_its_place(shop: Shop, said: str) -> None:
    with pytest.raises(ValueError) as wrong:
        document(shop)
    assert str(wrong.value).startswith(said)


def test_a_question_that_cannot_be_answered_is_refused_and_one_that_is_no_json() -> None:
    with pytest.raises(ValueError, match=r"questions\[1\]\.order"):
        document(SMALL, questions=[*PROMISES, {"ask": "when", "lines": [{"item": "axe", "pieces": 1}]}])
    with pytest.raises(ValueError, match="document: .*; plain text"):
        document(SMALL, questions=[{"ask": MONDAY}])
    with pytest.raises(ValueError, match="futures: 3 does not fit"):
        document(SMALL, futures=3)


def test_equal_shops_have_one_digest_and_it_is_that_of_the_document_as_read() -> None:
    whole, parts = (replace(SMALL, unrest=unrest, pack_minutes=minutes) for unrest, minutes in ((0, 9), (0.0, 9.0)))
    assert document(whole) == document(parts)
    assert reading.digest(document(whole)) == reading.digest(document(parts))
    said = document(whole, questions=PROMISES)
    assert reading.read(json.dumps(said)).digest == reading.digest(said)


@given(shops)
@settings(max_examples=30, deadline=None)
def test_a_document_kept_short_is_the_same_again(shop: Shop) -> None:
    said = document(readable(shop), questions=PROMISES)
    kept = pack(said)
    assert unpack(kept) == said
    assert pack(dict(reversed(said.items()))) == kept, "the order of keys is nothing"
    assert kept.isascii()
    assert kept.split(":")[0] == reading.digest(said)


def test_what_was_not_packed_is_refused() -> None:
    kept = pack(document(SMALL))
    known, short = kept.split(":")

    def packed(text: bytes) -> str:
        return f"{known}:{base64.b64encode(zlib.compress(text)).decode()}"

    other = pack(document(replace(SMALL, unrest=0.3))).split(":")[1]
    bad = ["", known, short, f"{known}:{short[:-8]}", f"{known}:{short[:-1]}?", f"{known}:{other}", packed(b"[]"),
           packed(b"no"), packed(b"\xff")]  # fmt: skip
    for one in bad:
        with pytest.raises(ValueError, match="packed|document"):
            unpack(one)


def test_a_text_that_swells_is_not_unpacked_whole() -> None:
    swollen = base64.b64encode(zlib.compress(b" " * 30_000_000)).decode()
    with pytest.raises(ValueError, match="too long"):
        unpack(f"{'0' * 64}:{swollen}")
