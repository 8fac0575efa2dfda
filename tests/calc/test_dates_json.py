"""A shop's state is read strictly: every part of it can be said, and what cannot be is refused with its place."""

import contextlib
import copy
import dataclasses
import datetime as dt
import json
import time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates.chance import Law
from orders.calc.dates.route import Fire, Oven
from orders.calc.dates.state import Coming, Hours, Line, Pin, Shop, Spells
from orders.calc.dates_json import answering, manual, reading
from orders.calc.dates_json.example import EXAMPLE
from orders.calc.dates_json.keys import SECTIONS, SHOP
from orders.calc.dates_json.loading import Refused, Unreadable
from orders.calc.dates_json.questions import Question
from tests.calc import dates_of_size

WHOLE: dict[str, Any] = json.loads(EXAMPLE)
LEAST = {"hours": {"first_day": "2026-12-01"}, "people": [], "questions": [{"ask": "promises"}]}
GONE = object()
Path = tuple[str | int, ...]


def changed(path: Path, value: Any, base: dict[str, Any] = WHOLE) -> str:
    """Write the example with one value changed, or gone."""
    document = copy.deepcopy(base)
    at: Any = document
    for key in path[:-1]:
        at = at[key]
    if value is GONE:
        del at[path[-1]]
    elif isinstance(at, list) and path[-1] == len(at):
        at.append(value)
    else:
        at[path[-1]] = value
    return json.dumps(document)


@pytest.mark.parametrize("name", ["", *SECTIONS])
def test_every_part_of_the_state_has_its_key_and_no_key_is_more(name: str) -> None:
    kind, keys = SECTIONS[name] if name else (Shop, SHOP)
    assert set(keys) == {one.name for one in dataclasses.fields(kind)}
    said = manual.text().split(f"\n{name or 'Keys of a document'}:\n")[1].split("\n\n")[0]
    for key in keys:
        assert f"\n  {key} " in f"\n{said}", key


def test_the_example_is_read_whole() -> None:
    asked = reading.read(EXAMPLE)
    shop = asked.shop
    assert (asked.name, asked.seed, asked.futures, len(asked.questions)) == ("two people, one hammer", 7, 1000, 6)
    first = dt.date(2026, 12, 1)
    assert shop.hours == Hours(first, closed=frozenset({dt.date(2026, 12, 25), dt.date(2027, 1, 1)}))
    assert (shop.people[0].out, shop.people[0].ill) == (frozenset({3}), Spells(0.01, (1, 1, 2, 4)))
    assert shop.machines[0].breaks == Spells(0.005, (1, 2))
    forge, _, harden, _, haft, _ = shop.products[0].steps
    assert (forge.varies, forge.fire, forge.hands) == (Law("lognormal", (0.2,)), Fire(4, 25.0), ("Ines",))
    assert harden.oven == Oven(0.05, 60, 30, "845 C")
    assert (haft.uses, haft.cure) == ((("handle 16 in", 1.0),), 1440)
    assert shop.batches[0].ready == 9 * 60 + 30
    assert shop.coming == (Coming("handle 16 in", 36, 7, "handles"),)
    assert shop.lines == (Line("81", "hammer 2 lb", 12, 10, 0.9),)
    assert shop.pins == (Pin("K7", 3, 1),)
    assert shop.tooling_in == {"power hammer": "T4"}
    assert asked.questions[1] == Question("how_sure", "asked", (("hammer 2 lb", 20),), by=17)


def test_what_is_left_out_is_as_the_state_has_it() -> None:
    asked = reading.read(json.dumps(LEAST))
    assert asked.shop == Shop(Hours(dt.date(2026, 12, 1)), ())
    assert (asked.name, asked.seed, asked.futures) == ("", 0, 4_000)
    assert asked.questions == (Question("promises"),)


def test_days_that_are_over_count_as_today_and_late_deliveries_keep_theirs() -> None:
    over = copy.deepcopy(WHOLE)
    over["pins"][0]["day"] = over["coming"][0]["day"] = over["lines"][0]["day"] = "2026-11-20"
    over["people"][0]["out"] = ["2026-11-20", "2026-12-02"]
    over["batches"][0]["ready"] = over["machines"][0]["busy"] = "2026-11-30T18:00"
    shop = reading.read(json.dumps(over)).shop
    assert (shop.pins[0].day, shop.batches[0].ready, shop.machines[0].busy) == (0, 0, 0)
    assert shop.people[0].out == frozenset({1})
    assert (shop.coming[0].day, shop.lines[0].day) == (-11, -11)


def test_a_run_that_is_still_to_be_started_can_be_put_on_the_sheet_and_one_can_be_made_of_nothing() -> None:
    pins = [{"run": "hammer 2 lb+2", "step": 1, "day": "2026-12-03"}]
    assert reading.read(changed(("pins",), pins)).shop.pins == (Pin("hammer 2 lb+2", 1, 2),)
    assert reading.read(changed(("products", 0, "made_from"), "")).shop.products[0].made_from == ""


def test_what_other_programs_write_is_read_too() -> None:
    document = json.loads(EXAMPLE)
    document["lines"] = [{**document["lines"][0], "pieces": 12.0, "alone": True}]
    shop = reading.read("\ufeff" + json.dumps(document, indent="\t").replace("\n", "\r\n")).shop
    assert shop.lines == (Line("81", "hammer 2 lb", 12, 10, 0.9, alone=True),)


def test_hours_of_every_kind_are_read() -> None:
    odd = {
        **WHOLE["hours"],
        "weekdays": ["Sat", "Mon", "Sat"],
        "carrier_weekdays": ["Sun"],
        "opens": "00:00",
        "closes": "24:00",
    }
    hours = reading.read(changed(("hours",), odd)).shop.hours
    assert (hours.weekdays, hours.carrier_weekdays, hours.opens, hours.closes) == ((0, 5), (6,), 0, 1440)


STEP: Path = ("products", 0, "steps", 0)
WRONG: list[tuple[Path, Any, str]] = [
    (("kerf",), 3, "kerf: no such key"),
    (("hours",), GONE, "hours: missing"),
    (("hours",), 5, "hours: no object"),
    (("hours", "first_day"), GONE, "hours.first_day: missing"),
    (("hours", "first_day"), "1 December", "hours.first_day: no day"),
    (("hours", "first_day"), "2026-02-30", "hours.first_day: no day"),
    (("hours", "first_day"), "1926-12-01", "hours.first_day: no day"),
    (("hours", "opens"), "25:00", "hours.opens: no time of day"),
    (("hours", "opens"), 480, "hours.opens: no time of day"),
    (("hours", "opens"), "18:00", "hours: the shop opens before it closes"),
    (("hours", "weekdays"), [0, 1], "hours.weekdays[0]: none of the words"),
    (("hours", "weekdays"), [], "hours.weekdays: 0 of them"),
    (("hours", "production"), 0, "hours.production: 0 does not fit"),
    (("hours", "production"), True, "hours.production: no number"),
    (("people",), {}, "people: no list"),
    (("people",), [{"code": f"p{n}"} for n in range(61)], "people: 61 of them"),
    (("people", 1, "code"), "Ines", "people[1].code: 'Ines' is taken"),
    (("people", 1, "code"), "", "people[1].code: no name"),
    (("people", 1, "code"), "a\x1fb", "people[1].code: no name"),
    (("people", 1, "code"), "\ud800", "people[1].code: no name"),
    (("people", 0, "ill", "chance"), 1e-300, "people[0].ill.chance: 1e-300 does not fit; 0 or a number"),
    (("people", 0, "ill", "lasts"), [0], "people[0].ill.lasts[0]: 0 does not fit"),
    (("machines", 0, "code"), "Marek", "machines[0].code: 'Marek' is taken"),
    (("machines", 0, "busy"), "14:30", "machines[0].busy: no moment"),
    (("machines", 0, "busy"), "2026-12-01T14:60", "machines[0].busy: no time of day"),
    (("products", 0, "steps"), [], "products[0].steps: 0 of them"),
    (("products", 0, "steps"), [{"number": n, "name": "s"} for n in range(1, 62)], "products[0].steps: 61 of them"),
    (("products", 0, "steps", 1, "number"), 1, "products[0]: hammer 2 lb: a route has steps"),
    (("products", 0, "made_from"), "blank X", "products[0].made_from: 'blank X' is none of the items"),
    (("products", 1), WHOLE["products"][0], "products[1].item: 'hammer 2 lb' is taken"),
    ((*STEP, "minutes"), -1, "products[0].steps[0].minutes: -1 does not fit"),
    ((*STEP, "minutes"), "14", "products[0].steps[0].minutes: '14' is text"),
    ((*STEP, "hands"), ["Nobody"], "products[0].steps[0].hands[0]: 'Nobody' is none of the people"),
    ((*STEP, "machines"), ["saw"], "products[0].steps[0].machines[0]: 'saw' is none of the machines"),
    ((*STEP, "good"), 0, "products[0].steps[0]: step 1: a rate is learned"),
    ((*STEP, "good"), 0.5, "products[0].steps: fewer than 1 of 10"),
    ((*STEP, "varies"), {"kind": "uniform", "numbers": [1]}, "products[0].steps[0].varies.kind: none of the words"),
    ((*STEP, "varies"), {"kind": "pert", "numbers": [3, 2, 1]}, "products[0].steps[0].varies: a pert law"),
    ((*STEP, "varies"), {"kind": "lognormal", "numbers": [9]}, "products[0].steps[0].varies.numbers[0]: 9 does not"),
    ((*STEP, "varies", "numbers"), GONE, "products[0].steps[0].varies.numbers: missing"),
    (("products", 0, "steps", 2, "oven", "soak"), 481, "products[0].steps[2].oven: heat_up and soak take 541"),
    (("products", 0, "steps", 2, "oven", "share"), 1.5, "products[0].steps[2].oven.share: 1.5 does not fit"),
    (("products", 0, "steps", 2, "machines"), [], "products[0].steps[2]: step 3: an oven load"),
    (("products", 0, "steps", 4, "uses"), {"handle": 1}, "products[0].steps[4].uses.handle: 'handle' is none"),
    (("products", 0, "steps", 4, "uses"), [["handle 16 in", 1]], "products[0].steps[4].uses: no object"),
    (("stock", "blank CP2"), -1, "stock.blank CP2: -1 does not fit"),
    (("batches", 0, "item"), "hammer 3 lb", "batches[0].item: 'hammer 3 lb' is none of the products"),
    (("batches", 0, "step"), 7, "batches[0].step: no step 7"),
    (("batches", 0, "code"), "hammer 2 lb+1", "batches[0].code: a + names"),
    (("batches", 0, "by"), ["oven"], "batches[0].by[0]: 'oven' is none of the people"),
    (("batches", 1), WHOLE["batches"][0], "batches[1].code: 'K7' is taken"),
    (("batches", 0, "ready"), "2926-12-01T09:30", "batches[0].ready: no day"),
    (("batches", 0, "ready"), "2126-12-01T09:30", "batches[0].ready: more than 7500 days"),
    (("batches", 0, "spare"), 1, "batches[0].spare: neither true nor false"),
    (("suppliers", 0, "late_days"), [], "suppliers[0].late_days: 0 of them"),
    (("coming", 0, "supplier"), "nobody", "coming[0].supplier: 'nobody' is none of the suppliers"),
    (("buys_from", "handle 16 in"), "nobody", "buys_from.handle 16 in: 'nobody' is none of the suppliers"),
    (("stock",), {f"i{n}": 1 for n in range(20_001)}, "stock: 20001 of them"),
    (("lines", 0, "pieces"), 12.5, "lines[0].pieces: 12.5 does not fit"),
    (("lines", 0, "pieces"), 10**40, "lines[0].pieces: no number that counts"),
    (("lines", 0, "pieces"), 1_001, "lines[0].pieces: 1001 does not fit"),
    (("lines", 0, "item"), "axe", "lines[0].item: 'axe' is none of the items"),
    (("lines", 0, "sure"), 1, "lines[0].sure: 1 does not fit"),
    (("lines", 0, "day"), 10, "lines[0].day: no day"),
    (("lines",), [WHOLE["lines"][0]] * 2_001, "lines: 2001 of them"),
    (("lines", 1), {**WHOLE["lines"][0], "day": "2026-12-18"}, "lines[1].day: order '81' has another day in lines[0]"),
    (("lines",), [WHOLE["lines"][0] | {"pieces": 1_000}] * 20, "lines: about"),
    (("pins", 0, "run"), "K8", "pins[0].run: no run 'K8'"),
    (("pins", 0, "run"), "hammer 2 lb+0", "pins[0].run: no run"),
    (("pins", 0, "run"), "axe+1", "pins[0].run: no run"),
    (("pins", 0, "step"), 9, "pins[0].step: no step 9"),
    (("pins", 1), WHOLE["pins"][0], "pins[1]: step 3 of 'K7' is on the sheet twice"),
    (("tooling_in", "saw"), "T4", "tooling_in.saw: 'saw' is none of the machines"),
    (("tooling_in", "oven"), "T9", "tooling_in.oven: 'T9' is none of the tooling"),
    (("now",), "8", "now: no time of day"),
    (("horizon_days",), 801, "horizon_days: 801 does not fit"),
    (("futures",), 20_001, "futures: 20001 does not fit"),
    (("futures",), 99, "futures: 99 does not fit"),
    (("seed",), -1, "seed: -1 does not fit"),
    (("questions",), [], "questions: 0 of them"),
    (("name",), 5, "name: no name"),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value", "said"), WRONG, ids=lambda one: one[:40] if isinstance(one, str) else "")
def test_what_cannot_be_is_refused_with_its_place_in_one_sentence(path: Path, value: Any, said: str) -> None:
    with pytest.raises(Refused) as caught:
        reading.read(changed(path, value))
    sentence = str(caught.value)
    assert sentence.startswith(said), sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert not isinstance(caught.value, Unreadable)


def test_too_many_lines_for_so_many_futures_are_refused() -> None:
    many = {**LEAST, "lines": [{"order": "a", "item": "a", "pieces": 0}] * 1_000, "stock": {"a": 1}, "futures": 20_000}
    with pytest.raises(Refused, match=r"futures: 20000 are too many for 1000 lines; up to 10000 would work\."):
        reading.read(json.dumps(many))


QUESTIONS: list[tuple[dict[str, Any] | list[Any], str]] = [
    ([], "questions[0]: no object"),
    ({}, "questions[0].ask: missing"),
    ({"ask": "why"}, "questions[0].ask: none of the words"),
    ({"ask": "promises", "by": "2026-12-11"}, "questions[0].by: no such key"),
    ({"ask": "when", "lines": [{"item": "hammer 2 lb", "pieces": 1}]}, "questions[0].order: missing"),
    ({"ask": "when", "order": "x"}, "questions[0].lines: missing"),
    ({"ask": "when", "order": "81", "lines": [{"item": "hammer 2 lb", "pieces": 1}]}, "questions[0].order: there is"),
    ({"ask": "when", "order": "x", "lines": [{"item": "axe", "pieces": 1}]}, "questions[0].lines[0].item: no such item"),
    ({"ask": "when", "order": "x", "lines": [{"item": "hammer 2 lb"}]}, "questions[0].lines[0].pieces: missing"),
    ({"ask": "when", "order": "x", "lines": [{"item": "hammer 2 lb", "pieces": 0}]}, "questions[0].lines[0].pieces: 0"),
    ({"ask": "how_sure", "order": "x", "lines": [{"item": "hammer 2 lb", "pieces": 1}]}, "questions[0].by: missing"),
    ({"ask": "how_sure", "order": "82", "by": "2026-12-11"}, "questions[0].order: no order"),
    ({"ask": "how_sure", "order": "81", "by": "2028-12-11"}, "questions[0].by: past the 400 days"),
    ({"ask": "how_many", "order": "x", "by": "2026-12-11", "lines": [{"item": "hammer 2 lb", "pieces": 1}] * 2},
     "questions[0].lines: 2 of them"),
    ({"ask": "week", "days": 0}, "questions[0].days: 0 does not fit"),
]  # fmt: skip


@pytest.mark.parametrize(("question", "said"), QUESTIONS, ids=lambda one: one if isinstance(one, str) else "")
def test_a_question_that_cannot_be_answered_is_refused_alone(question: Any, said: str) -> None:
    asked = reading.read(changed(("questions",), [question, {"ask": "promises"}]))
    wrong, right = asked.questions
    assert isinstance(wrong, Refused)
    assert str(wrong).startswith(said), wrong
    assert str(wrong).endswith(".")
    assert right == Question("promises")
    refused, answer = answering.answered(asked)["answers"]
    assert refused == {"ask": question.get("ask") if isinstance(question, dict) else None, "error": str(wrong)}
    assert answer["promises"]


@pytest.mark.parametrize(
    "text",
    ["", "{", "[" * 100_000, "NaN and more", "{'a': 1}", " " * 20_000_001],
    ids=["nothing", "open", "deep", "words", "quotes", "long"],
)
def test_what_is_no_json_is_unreadable(text: str) -> None:
    with pytest.raises(Unreadable, match=r"document: .*would work\.$"):
        reading.read(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[1]", "document: no object"),
        (EXAMPLE.replace('"minutes": 14', '"minutes": NaN'), "products[0].steps[0].minutes: no number that counts"),
        (EXAMPLE.replace('"minutes": 14', '"minutes": 1e999'), "products[0].steps[0].minutes: no number that counts"),
        (EXAMPLE.replace('"seed": 7', '"seed": 7, "seed": 8'), "document: seed is written twice"),
        (EXAMPLE.replace('"most": 24', '"most": 24, "most": 5'), "products[0]: most is written twice"),
        (EXAMPLE.replace('"blank CP2": 60', '"blank CP2": 60, "blank CP2": 6'), "stock: blank CP2 is written twice"),
    ],
)
def test_numbers_that_are_none_and_keys_written_twice_are_refused_where_they_stand(text: str, said: str) -> None:
    with pytest.raises(Refused) as caught:
        reading.read(text)
    assert str(caught.value).startswith(said)


def paths(value: Any, before: Path = ()) -> list[Path]:
    """Give the place of every value of the example."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [found for key, one in inside for found in ((*before, key), *paths(one, (*before, key)))]


odd = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(), lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text(max_size=5), inner, max_size=3), max_leaves=5,
)  # fmt: skip


@settings(max_examples=400)
@given(path=st.sampled_from(paths(WHOLE)), value=odd)
def test_no_value_anywhere_breaks_the_reading(path: Path, value: Any) -> None:
    with contextlib.suppress(Refused):  # anything else fails the test
        asked = reading.read(changed(path, value))
        assert all(isinstance(one, Question | Refused) for one in asked.questions)


def test_spaces_and_the_order_of_keys_change_nothing_and_every_figure_does() -> None:
    turned = json.dumps(dict(reversed(WHOLE.items())), indent=3)
    assert reading.read(turned).digest == reading.read(EXAMPLE).digest
    assert reading.read(turned).shop == reading.read(EXAMPLE).shop
    assert reading.read(changed((*STEP, "minutes"), 14.5)).digest != reading.read(EXAMPLE).digest


def test_reading_a_shop_takes_a_small_part_of_one_pass() -> None:
    text = json.dumps({**dates_of_size.shop(1, lines=200, products=20, batches=20), "questions": [{"ask": "promises"}]})
    began = time.process_time()
    asked = reading.read(text)
    read = time.process_time() - began
    answering.answered(asked)
    assert read < 0.1 * (time.process_time() - began)
