"""Answers as JSON say what the calculator found, hang together, and write the week so that it can be worked."""

import copy
import datetime as dt
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.calc.dates import asking
from orders.calc.dates.ideas import ideas
from orders.calc.dates_json import answering, reading
from orders.calc.dates_json.example import EXAMPLE
from tests.calc import dates_of_size

WHOLE: dict[str, Any] = json.loads(EXAMPLE)
TWENTY = [{"item": "hammer 2 lb", "pieces": 20}]
WHEN = {"ask": "when", "order": "x", "lines": TWENTY}


def asked(*questions: dict[str, Any], base: dict[str, Any] = WHOLE, **more: Any) -> list[dict[str, Any]]:
    """Ask of the example with some keys changed."""
    document = {**copy.deepcopy(base), "futures": 200, **more, "questions": list(questions)}
    said: list[dict[str, Any]] = answering.answered(reading.read(json.dumps(document)))["answers"]
    return said


def test_when_says_what_the_calculator_found() -> None:
    document = reading.read(EXAMPLE)
    said = answering.answered(document)
    assert (said["seed"], said["futures"], said["digest"]) == (7, 1_000, document.digest)
    found = asking.ask(document.shop, document.questions[0].wanted, sure=0.9, seed=7, futures=1_000)  # type: ignore[union-attr]
    when = said["answers"][0]
    first = document.shop.hours.first_day
    day, half = found.curve.day(0.9), found.curve.day(0.5)
    assert day is not None
    assert half is not None
    assert when["day"] == (first + dt.timedelta(days=day)).isoformat()
    assert when["half"] == (first + dt.timedelta(days=half)).isoformat()
    assert when["curve"][-1]["chance"] >= 0.999
    assert when["never"] == pytest.approx(found.curve.never)
    assert [one["what"] for one in when["holds"]] == [one.what for one in found.holds]
    assert [(one["order"], one["before"], one["after"]) for one in when["promises"]] == [
        (one.order, one.before, one.after) for one in found.promises
    ]
    assert when["losers"] == [one.order for one in found.losers]
    _, sure, many, promises, _, forward = said["answers"]
    assert sure["chance"] == found.curve.sure(17)
    (line,) = document.questions[2].wanted  # type: ignore[union-attr]
    parts = asking.split(document.shop, line, day=10, sure=0.9, seed=7, futures=1_000)
    assert [(one["pieces"], one["day"]) for one in many["split"]] == [
        (one.pieces, (first + dt.timedelta(days=one.day)).isoformat() if one.day is not None else None) for one in parts
    ]
    rated = asking.rate(document.shop, seed=7, futures=1_000)[1]
    assert promises["promises"] == [{"order": "81", "day": "2026-12-11", "chance": rated[0].after}]
    wanted = document.questions[5].wanted  # type: ignore[union-attr]
    assert [one["what"] for one in forward["ideas"]] == [
        one.what for one in ideas(document.shop, wanted, sure=0.9, seed=7)
    ]


def test_an_order_in_the_book_can_be_asked_for_without_its_lines() -> None:
    promises, sure = asked({"ask": "promises"}, {"ask": "how_sure", "order": "81", "by": "2026-12-11"})
    assert sure["chance"] == promises["promises"][0]["chance"]


def test_how_many_by_a_day_and_when_the_rest() -> None:
    (before,) = asked({"ask": "how_many", "order": "x", "lines": TWENTY, "by": "2026-11-30"})
    assert before["pieces"] == 0
    assert [part["pieces"] for part in before["split"]] == [20]
    (late,) = asked({"ask": "how_many", "order": "x", "lines": TWENTY, "by": "2027-03-01"})
    (when,) = asked({"ask": "when", "order": "x", "lines": TWENTY})
    assert (late["pieces"], late["split"]) == (20, [{"pieces": 20, "day": when["day"]}])


def test_goods_that_are_only_bought_say_how_many_are_short() -> None:
    shop = copy.deepcopy(WHOLE)
    shop["stock"]["ring"] = 5
    (when,) = asked({"ask": "when", "order": "x", "lines": [{"item": "ring", "pieces": 8}]}, base=shop)
    (short,) = when["stuck"]
    assert (short["item"], short["run"], short["why"]) == ("ring", None, "3 short, not made here and not to be bought")
    (enough,) = asked({"ask": "when", "order": "x", "lines": [{"item": "ring", "pieces": 5}]}, base=shop)
    assert enough["stuck"] == []


def test_what_can_never_be_sent_says_so_and_what_stands_in_the_way() -> None:
    nobody = copy.deepcopy(WHOLE)
    nobody["products"][0]["steps"][0]["people"] = 2  # only Ines forges
    (when,) = asked(WHEN, base=nobody)
    assert (when["day"], when["half"], when["curve"], when["never"]) == (None, None, [], 1.0)
    assert when["stuck"] == [
        {"run": run, "item": "hammer 2 lb", "step": 1, "name": "forge", "why": "it takes 2 people and 1 can do it"}
        for run in [one["run"] for one in when["stuck"]]
    ]
    assert when["stuck"]
    no_handles = {**WHOLE, "stock": {"blank CP2": 90, "handle 16 in": 0}, "coming": [], "buys_from": {}}
    (when,) = asked(WHEN, base=no_handles)
    assert {one["why"] for one in when["stuck"]} == {"handle 16 in runs out and cannot be bought"}
    pinned = {
        **WHOLE,
        "pins": [{"run": "K7", "step": 3, "day": "2026-12-02"}, {"run": "K7", "step": 4, "day": "2026-12-03"}],
    }
    (week,) = asked({"ask": "week"}, base=pinned)
    assert week["stuck"] == []


def operations(week: dict[str, Any]) -> list[dict[str, Any]]:
    return [one for day in week["days"] for place in day["places"] for one in place["operations"]]


def test_the_week_says_who_does_what_where_and_when() -> None:
    (week,) = asked({"ask": "week", "days": 14})
    by_step = {one["step"]: one for one in operations(week) if one["run"] == "K7"}
    harden = by_step[3]
    assert (harden["begins"], harden["pinned"], harden["waits_for"]) == ("2026-12-02T08:00", True, "the week sheet")
    # Eleven pieces of a minute each, at .65 of the day: 11 / .65 = 16.9 minutes; then 90 minutes in the oven.
    assert harden["ends"] == "2026-12-02T08:17"
    assert harden["oven"] == {"kind": "845 C", "together": ["K7"], "loads": 1, "shut": "2026-12-02T08:17",
                              "open": "2026-12-02T09:47"}  # fmt: skip
    assert by_step[4]["begins"] == "2026-12-02T09:47"
    assert "oven" not in by_step[5]
    assert [place["place"] for place in week["days"][0]["places"]] == ["bench", "oven"]
    assert week["runs"][0] == {"run": "K7", "item": "hammer 2 lb", "pattern": "CP2", "pieces": 11, "good": 10,
                               "after_step": 2, "planned": False}  # fmt: skip
    (short,) = asked({"ask": "week", "days": 1})
    assert short["days"] == []


def test_the_week_names_tooling_to_change_deliveries_taken_and_what_to_buy() -> None:
    more = {**WHOLE, "lines": [{"order": "81", "item": "hammer 2 lb", "pieces": 90}], "tooling_in": {}, "pins": []}
    (week,) = asked({"ask": "week", "days": 60}, base=more)
    done = operations(week)
    forge = [one for one in done if one["step"] == 1]
    assert [one["change"] for one in forge] == [True] + [False] * (len(forge) - 1)
    assert [one["set_up"] for one in forge] == [60.0] + [20.0] * (len(forge) - 1)
    haft = [one for one in done if one["step"] == 5]
    assert any(one["comes"] == [{"item": "handle 16 in", "day": "2026-12-08"}] for one in haft)
    assert any(one["buys"] == ["handle 16 in"] for one in haft)
    pieces = {one["step"]: one["pieces"] for one in done if one["run"] == "hammer 2 lb+1"}
    assert pieces[2] == pytest.approx(pieces[1] * 0.92, abs=0.06)  # 184 good of 200


def test_what_goes_into_the_oven_together_is_one_load_on_the_sheet() -> None:
    two = copy.deepcopy(WHOLE)
    two["batches"] = [{"code": code, "item": "hammer 2 lb", "step": 2, "pieces": 5} for code in ("K7", "K8")]
    two["pins"] = []
    (week,) = asked({"ask": "week"}, base=two)
    first, second = [one for one in operations(week) if one["step"] == 3]
    assert first["oven"]["together"] == second["oven"]["together"] == ["K7", "K8"]
    assert first["begins"] == second["begins"]
    large = {**two, "batches": [{"code": "K7", "item": "hammer 2 lb", "step": 2, "pieces": 50}]}
    (week,) = asked({"ask": "week"}, base=large)
    (only,) = [one for one in operations(week) if one["step"] == 3]
    assert only["oven"]["loads"] == 3  # twenty to a load


def test_a_load_too_late_in_the_day_is_shut_the_next_morning_unless_it_may_run_on() -> None:
    late = copy.deepcopy(WHOLE)
    late["pins"], late["now"] = [], "16:00"
    (week,) = asked({"ask": "week"}, base=late)
    (harden,) = [one for one in operations(week) if one["step"] == 3]
    assert harden["begins"] == "2026-12-01T16:00"
    assert (harden["oven"]["shut"], harden["oven"]["open"]) == ("2026-12-02T08:00", "2026-12-02T09:30")
    late["products"][0]["steps"][2]["oven"]["unattended"] = True
    (week,) = asked({"ask": "week"}, base=late)
    (harden,) = [one for one in operations(week) if one["step"] == 3]
    assert (harden["oven"]["shut"], harden["oven"]["open"]) == ("2026-12-01T16:17", "2026-12-01T17:47")


def test_a_step_without_machines_is_done_at_the_bench() -> None:
    (week,) = asked({"ask": "week", "days": 30}, pins=[], lines=[{"order": "81", "item": "hammer 2 lb", "pieces": 40}])
    places = {place["place"] for day in week["days"] for place in day["places"]}
    assert places == {"bench", "oven", "power hammer"}
    for day in week["days"]:
        for place in day["places"]:
            begins = [one["begins"] for one in place["operations"]]
            assert begins == sorted(begins)
            assert all(begin.startswith(day["day"]) for begin in begins)


def test_another_seed_gives_other_futures_and_the_same_one_the_same() -> None:
    assert asked(WHEN, seed=3) == asked(WHEN, seed=3)
    assert asked(WHEN, seed=3) != asked(WHEN, seed=4)


some = st.fixed_dictionaries(
    {
        "seed": st.integers(0, 5), "lines": st.integers(0, 4), "products": st.integers(1, 2), "batches": st.integers(0, 3),
        "steps": st.integers(1, 9), "most": st.sampled_from([1, 5, 40]),
    }
)  # fmt: skip
twists = st.fixed_dictionaries(
    {},
    optional={
        "now": st.sampled_from(["00:00", "16:59", "24:00"]), "horizon_days": st.sampled_from([1, 20, 800]),
        "people": st.sampled_from([[], [{"code": "p0", "ill_for": 3}]]), "stock": st.just({"handle": 0, "blank": 0}),
        "buys_from": st.just({"blank": "wood"}), "pack_minutes": st.just(10_000), "starts_sure": st.sampled_from([0.01, 0.999]),
        "top_up_waits": st.just(0), "coming": st.just([]), "lorry": st.sampled_from(["00:00", "24:00"]),
    },
)  # fmt: skip
hours = st.fixed_dictionaries(
    {"first_day": st.just("2026-12-01")},
    optional={
        "weekdays": st.sampled_from([["Sun"], ["Tue"]]), "carrier_weekdays": st.just(["Sun"]), "production": st.just(0.05),
        "opens": st.just("00:00"), "carrier_cutoff": st.sampled_from(["00:00", "24:00"]),
        "closed": st.just([dates_of_size.day(n) for n in range(30)]),
    },
)  # fmt: skip


@settings(max_examples=60)
@given(some=some, twist=twists, hours=hours, sure=st.sampled_from([0.01, 0.5, 0.9, 0.999]), pieces=st.integers(1, 30))
def test_whatever_can_be_read_is_answered_and_the_answers_agree(
    some: dict[str, int], twist: dict[str, Any], hours: dict[str, Any], sure: float, pieces: int
) -> None:
    document = {**dates_of_size.shop(**some), **twist, "hours": hours, "futures": 100}
    lines = [{"item": "tool 0", "pieces": pieces}]
    day = dates_of_size.day(min(19, twist.get("horizon_days", 400) - 1))
    about = {"order": "x", "lines": lines, "sure": sure}
    questions: list[dict[str, Any]] = [{"ask": "when", **about}, {"ask": "how_sure", **about, "by": day},
                                       {"ask": "how_many", **about, "by": day}, {"ask": "week"}, {"ask": "ideas", **about}]  # fmt: skip
    read = reading.read(json.dumps({**document, "questions": questions}))
    when, by, many, week, forward = answering.answered(read)["answers"]
    curve = {one["day"]: one["chance"] for one in when["curve"]}
    assert list(curve.values()) == sorted(curve.values())
    assert (when["day"] is None) == (1 - when["never"] < sure - 1e-9)
    if when["day"]:
        assert max((chance for one, chance in curve.items() if one <= when["day"]), default=0) >= sure - 1e-9
    if by["chance"] < 0.999:
        assert by["chance"] == max((chance for one, chance in curve.items() if one <= day), default=0)
    assert sum(part["pieces"] for part in many["split"]) == pieces
    assert all(part["day"] is None or part["day"] <= day for part in many["split"][:1] if many["pieces"])
    assert (many["pieces"] == pieces) == (by["chance"] >= sure - 1e-9)
    assert all(one["begins"] <= one["ends"] for one in operations(week))
    assert all(idea["gain"] is None if when["day"] is None else idea["gain"] > 0 for idea in forward["ideas"])
