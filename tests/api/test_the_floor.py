"""The floor asked by a program: a run's whole life, what is refused, and what is learned."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import CountReject, Item, Machine, OvenLoad, Pattern, Run
from orders.models import OrderLine
from shop.flows import checking, reversing
from shop.shared import clock
from shop.shared.models import AuditLine
from tests import forge, makers
from tests.api import asking
from tests.api.asking import Program, data
from tests.forge import CHECKED, FIRST, GROUND, HAFTED, SECOND

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    yield made
    assert checking.check_book() == []


@pytest.fixture
def made(program: Program) -> forge.Forge:
    return forge.make_forge()


def problem(response: object, status: int, code: str) -> dict:
    """Return the problem of a refusal that must have this status and code."""
    said = asking.problem(response, status)  # type: ignore[arg-type]
    assert said["type"].endswith(f"/{code}"), said
    return said


def start(program: Program, made: forge.Forge, pieces: int = 12, **more: object) -> dict:
    body = {"head": made.head.code, "blank": made.blank.code, "mill_heat": made.melt.pk, "pieces": pieces, **more}
    return data(program.post("runs", body), 201)


def count(program: Program, code: str, step: int, good: int, status: int = 200, **more: object) -> dict:
    return data(program.post(f"runs/{code}/counts", {"step": step, "good": good, **more}), status)


def test_a_run_goes_from_blanks_to_the_order_through_the_api(program: Program, made: forge.Forge) -> None:
    order = makers.make_order({made.tool.item: 8})
    run = start(program, made, wanted=10)
    assert run["stands"] == [{"after": None, "step": 0, "place": "floor", "pieces": 12, "dry_at": None, "load": None}]
    code = run["code"]
    done = count(program, code, FIRST, 11, rejects=[{"cause": "cheek split", "pieces": 1}])
    (reject,) = done["count"]["rejects"]
    assert (reject["cause"], reject["pieces"], reject["fate"]) == ("cheek split", 1, "scrap")
    for step in (SECOND, GROUND):
        count(program, code, step, 11)
    hard = {"work": "harden", "runs": [{"run": code, "pieces": 11, "trial": "fine"}], "temperature_celsius": 845}
    data(program.post("oven-loads", hard), 201)
    assert data(program.get("floor"))["untempered"][0]["pieces"] == 11
    soft = {"work": "temper", "runs": [{"run": code, "pieces": 11}], "temperature_celsius": 204, "soak_minutes": 120,
            "oven": Machine.objects.get(code="OVEN1").code}  # fmt: skip
    load = data(program.post("oven-loads", soft), 201)
    OvenLoad.objects.filter(number=load["number"]).update(in_at=makers.AT)
    out = data(program.post(f"oven-loads/{load['number']}/out", {}), 200)
    assert out["reached"] is True
    reading = {"lot": out["lots"][0]["lot"], "hardness": {"method": "file pair", "hrc": "50", "hrc_to": "55"}}
    (read,) = data(program.post(f"oven-loads/{load['number']}/readings", reading))["readings"]
    assert (read["hrc_from"], read["hrc_to"], read["inside"]) == ("50", "55", True)
    count(program, code, CHECKED, 11, crack_checked=True)
    data(program.post(f"runs/{code}/hafted", {"tool": made.tool.item.code, "good": 11, "handles_lost": 1}))
    refused = problem(program.post(f"runs/{code}/packed", {"good": 11}), 409, "still_curing")
    assert "dry_at" in refused
    packed = data(program.post(f"runs/{code}/packed", {"good": 11, "early_because": "the carrier waits"}))
    assert packed["served"] == [order.number]
    assert OrderLine.objects.get(order=order).reserved == 8
    whole = data(program.get(f"runs/{code}"))
    assert [one["good"] for one in whole["counts"]] == [11] * 6
    assert whole["stands"] == []
    assert whole["counts"][-2]["step"] == HAFTED


def test_a_count_that_passed_points_by_says_which_and_books_them_when_asked(
    program: Program, made: forge.Forge
) -> None:
    code = start(program, made)["code"]
    said = problem(program.post(f"runs/{code}/counts", {"step": GROUND, "good": 12}), 409, "skipped")
    assert [one["step"] for one in said["skipped"]] == [FIRST, SECOND]
    done = count(program, code, GROUND, 12, catch_up=True)
    assert [one["booked_with_later"] for one in done["before"]] == [True, True]


def test_no_count_gets_past_the_oven_by_a_program_either(program: Program, made: forge.Forge) -> None:
    code = start(program, made)["code"]
    count(program, code, GROUND, 12, catch_up=True)
    body = {"step": CHECKED, "good": 12, "crack_checked": True, "catch_up": True}
    problem(program.post(f"runs/{code}/counts", body), 409, "oven_first")


def test_a_cause_that_is_not_the_step_s_own_is_named_with_those_that_are(program: Program, made: forge.Forge) -> None:
    code = start(program, made)["code"]
    body = {"step": FIRST, "good": 1, "rejects": [{"cause": "cold shut", "pieces": 1}]}
    said = problem(program.post(f"runs/{code}/counts", body), 422, "invalid")
    assert "cheek split" in str(said)


def unknown(program: Program, code: str, pieces: int = 2) -> dict:
    """Count pieces as rejected without a cause, and return them as the run's counts show them."""
    count(program, code, FIRST, 12 - pieces, rejects=[{"pieces": pieces}])
    ((reject,),) = [one["rejects"] for one in data(program.get(f"runs/{code}"))["counts"]]
    assert reject["cause"] is None
    return reject


def test_a_cause_that_was_not_known_is_named_later_by_the_id_the_counts_show(
    program: Program, made: forge.Forge
) -> None:
    code = start(program, made)["code"]
    reject = unknown(program, code)
    before = data(program.get(f"runs/{code}"))
    named = data(program.post(f"rejects/{reject['id']}/cause", {"cause": "cheek split"}))
    assert named["rejects"] == [{**reject, "cause": "cheek split"}]
    after = data(program.get(f"runs/{code}"))
    assert after["counts"] == [named]
    assert (after["stands"], after["lots"]) == (before["stands"], before["lots"]), "nothing moves"
    line = AuditLine.objects.get(action="cause named")
    assert (line.by, line.after) == (
        f"key {program.key.prefix}", {"step": "first forging heat", "pieces": 2, "cause": "cheek split"}
    )  # fmt: skip


def test_a_cause_is_named_once_however_often_it_is_sent(program: Program, made: forge.Forge) -> None:
    reject = unknown(program, start(program, made)["code"])
    address, body = f"rejects/{reject['id']}/cause", {"cause": "cheek split"}
    first = program.post(address, body, key="the-same-key-of-a-program")
    again = program.post(address, body, key="the-same-key-of-a-program")
    assert data(again) == data(first)
    assert again["Idempotency-Replayed"] == "true"
    assert AuditLine.objects.filter(action="cause named").count() == 1
    said = problem(program.post(address, {"cause": "eye off centre"}), 422, "invalid")
    assert "it was said already, cheek split; undo the count to say otherwise" in said["detail"]
    problem(program.post(address, body, key=None), 400, "bad_header")


@pytest.mark.parametrize(
    ("body", "works"),
    [
        ({"cause": "quench crack"}, "it has eye off centre, cheek split."),
        ({"cause": "Cheek split"}, "it has eye off centre, cheek split."),
        ({"cause": ""}, ""),
        ({"cause": None}, ""),
        ({"cause": 7}, ""),
        ({"cause": "x" * 41}, ""),
        ({"cause": ["cheek split"]}, ""),
        ({"cause": "cheek split", "fate": "second"}, ""),
        ({}, ""),
    ],
)
def test_a_cause_that_cannot_be_is_refused_with_what_would_work(
    program: Program, made: forge.Forge, body: dict, works: str
) -> None:
    reject = unknown(program, start(program, made)["code"])
    said = problem(program.post(f"rejects/{reject['id']}/cause", body), 422, "invalid")
    assert works in said["detail"]
    assert CountReject.objects.get(pk=reject["id"]).cause is None


def test_a_cause_of_a_handle_is_none_of_a_head_that_was_spoilt(program: Program, made: forge.Forge) -> None:
    run = made.start(4)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 4)
    forge.harden(run, 4)
    forge.temper(run, 4)
    forge.check(run, 4)
    body = {"tool": made.tool.item.code, "good": 3, "rejects": [{"pieces": 1}]}
    (reject,) = data(program.post(f"runs/{run.code}/hafted", body))["count"]["rejects"]
    address = f"rejects/{reject['id']}/cause"
    said = problem(program.post(address, {"cause": "handle split"}), 422, "invalid")
    assert said["detail"].endswith("it has head spoilt.")
    assert data(program.post(address, {"cause": "head spoilt"}))["handles_lost"] == 0


def test_a_cause_of_a_count_that_was_undone_or_never_was_is_not_named(program: Program, made: forge.Forge) -> None:
    reject = unknown(program, start(program, made)["code"])
    with transaction.atomic():
        reversing.reverse(CountReject.objects.get().count.entry_id, stamp=makers.stamp(reason="a count taken back"))
    body = {"cause": "cheek split"}
    said = problem(program.post(f"rejects/{reject['id']}/cause", body), 422, "invalid")
    assert "this count was undone" in said["detail"]
    problem(program.post("rejects/987654321/cause", body), 404, "not_found")
    problem(program.post("rejects/0/cause", body), 404, "not_found")
    problem(program.post("rejects/x/cause", body), 404, "not_found")
    assert program.get(f"rejects/{reject['id']}/cause").status_code == 405


def test_a_program_that_only_reads_stock_names_no_cause(program: Program, made: forge.Forge) -> None:
    reject = unknown(program, start(program, made)["code"])
    address, body = f"rejects/{reject['id']}/cause", {"cause": "cheek split"}
    problem(Program("stock:read", "orders:write").post(address, body), 403, "not_allowed")
    assert data(Program("stock:write").post(address, body))["id"]


def test_the_floor_says_the_hour_of_closing_where_two_hours_end_after_it(program: Program, made: forge.Forge) -> None:
    """The shop of these tests stands in America/Chicago, six hours behind UTC in winter (IANA time zone database)."""
    run = made.start(4)
    for number in (FIRST, SECOND, GROUND):
        forge.count(run, number, 4)
    ten_past_four = dt.datetime(2026, 3, 4, 22, 10, tzinfo=dt.UTC)
    forge.harden(run, 4, at=ten_past_four)
    with clock.frozen(ten_past_four):
        (line,) = data(program.get("floor"))["untempered"]
    assert line == {"run": run.code, "pieces": 4, "temper_by": "2026-03-04T23:00:00Z"}


def test_how_many_to_start_comes_from_the_shop_s_own_counts(program: Program, made: forge.Forge) -> None:
    address = f"patterns/{made.pattern.code}/starts?wanted=24&sure=90"
    before = data(program.get(address))
    assert before["start"] > before["plain"] >= 24
    assert before["chance"] >= 0.9 > before["plain_chance"]
    code = start(program, made, 30)["code"]
    count(program, code, FIRST, 15, rejects=[{"pieces": 15}])
    assert data(program.get(address))["start"] > before["start"]
    data(program.post(f"patterns/{made.pattern.code}/count-afresh", {"point": "first forging heat"}))
    assert data(program.get(address))["start"] == before["start"]


def test_a_pattern_is_changed_and_its_route_written_only_as_it_was_read(program: Program, made: forge.Forge) -> None:
    address = f"patterns/{made.pattern.code}"
    read = program.get(address)
    tag = read["ETag"]
    changed = data(program.ask("PATCH", address, {"aim": "53 HRC"}, If_Match=tag))
    assert changed["aim"] == "53 HRC"
    belt = Item.objects.get(name="grinding belt")
    steps = [
        {"number": 1, "name": "first forging heat", "work": "forge", "counting_point": True},
        {"number": 2, "name": "ground", "work": "grind", "uses": [{"item": belt.code, "per_hundred": "8"}]},
    ]
    problem(program.ask("PUT", f"{address}/route", {"steps": steps}, If_Match=tag), 412, "stale")
    tag = program.get(address)["ETag"]
    assert data(program.ask("PUT", f"{address}/route", {"steps": steps}, If_Match=tag))["route_version"] == 2
    assert data(program.get(address))["steps"][1]["uses"] == [{"item": belt.code, "per_hundred": "8", "unit": "piece"}]
    tag = program.get(address)["ETag"]
    steps[1]["uses"] = [{"item": "NO-SUCH", "per_hundred": "8"}]
    problem(program.ask("PUT", f"{address}/route", {"steps": steps}, If_Match=tag), 422, "invalid")


def test_a_run_is_topped_up_parted_joined_and_the_floor_counted(program: Program, made: forge.Forge) -> None:
    run = start(program, made, 10)
    topped = data(program.post(f"runs/{run['code']}/top-up", {"blank": made.blank.code, "pieces": 2}))
    assert topped["started"] == 12
    other = data(program.post(f"runs/{run['code']}/part", {"step": 0, "pieces": 5}))
    assert (other["started"], data(program.get(f"runs/{run['code']}"))["started"]) == (5, 7)
    data(program.post(f"runs/{other['code']}/join", {"into": run["code"]}))
    tally = {"lines": [{"run": run["code"], "step": 0, "found": 11}]}
    (row,) = data(program.post("floor/counts", tally))["rows"]
    assert (row["before"], row["found"]) == (12, 11)
    page = data(program.get("runs?open=yes"))
    assert [one["code"] for one in page["rows"]] == [run["code"]]


def test_heads_from_before_the_book_and_handles_are_taken_in_hand(program: Program, made: forge.Forge) -> None:
    lot = makers.put_in(made.head, 4, place="FLOOR", step=FIRST, melt=made.melt)
    run = data(program.post(f"lots/{lot.code}/run"))
    assert Run.objects.get(code=run["code"]).kind == "opening"
    handles = makers.put_in(made.tool.handle, 12)
    sorted_ = data(program.post(f"lots/{handles.code}/sorted", {"good": 10, "bad": 2}))
    assert (sorted_["good"], sorted_["bad"]) == (10, 2)


def test_a_customer_s_piece_is_mended_and_never_stock(program: Program, made: forge.Forge) -> None:
    body = {"customer": "An Invented Farrier", "what": "a hammer", "wanted": "a new handle",
            "handle": made.tool.handle.code, "wedge": made.tool.wedge.code, "price": "28.00"}  # fmt: skip
    piece = data(program.post("pieces-brought-in", body), 201)
    address = f"pieces-brought-in/{piece['number']}"
    problem(program.post(f"{address}/given-back"), 409, "not_done")
    before = makers.stock(made.tool.handle).sellable
    done = data(program.post(f"{address}/done", {"handles": 1, "wedges": 2, "minutes": 40}))
    assert done["minutes"] == 40
    assert makers.stock(made.tool.handle).sellable == before - 1
    assert data(program.post(f"{address}/given-back"))["given_back_at"]


def test_tooling_and_notes(program: Program, made: forge.Forge) -> None:
    assert data(program.post("tooling/T4/changes", {"what": "in"}))["is_in"] is True
    problem(program.post("tooling/NOPE/changes", {"what": "in"}), 404, "not_found")
    assert data(program.post("floor/notes", {"what": "stopped: gas"}))["what"] == "stopped: gas"
    problem(program.post("floor/notes", {"what": "bottle changed"}), 422, "invalid")


def test_a_program_adds_machines_tooling_and_a_pattern(program: Program, made: forge.Forge) -> None:
    machine = data(program.post("machines", {"code": "PRESS", "name": "eye press", "kind": "press"}), 201)
    assert machine == {"code": "PRESS", "name": "eye press", "kind": "press", "holds": 1, "active": True}
    assert "PRESS" in [one["code"] for one in data(program.get("machines"))["rows"]]
    problem(program.post("machines", {"code": "PRESS", "name": "again", "kind": "press"}), 422, "invalid")
    problem(program.post("machines", {"code": "P2", "name": "a loom", "kind": "loom"}), 422, "invalid")
    body = {"code": "T9", "name": "flatter", "machines": "HAMMER, PRESS", "dress_at": 200}
    added = data(program.post("tooling", body), 201)
    assert (added["machines"], added["dress_at"], added["is_in"]) == (["HAMMER", "PRESS"], 200, False)
    problem(program.post("tooling", {**body, "code": "T10", "machines": "LATHE"}), 422, "invalid")
    new = data(program.post("patterns", {"code": "NP", "name": "a new one"}), 201)
    assert (new["code"], new["route_version"], new["items"]) == ("NP", None, [])
    problem(program.post("patterns", {"code": "NP", "name": "again"}), 422, "invalid")
    problem(program.post("patterns", {"code": "NQ", "name": "b", "items": "NO-SUCH"}), 422, "invalid")
    assert not Pattern.objects.filter(code="NQ").exists()


def test_items_are_given_to_a_pattern_and_not_taken_from_one_that_made_them(
    program: Program, made: forge.Forge
) -> None:
    made.start(4)
    blank = makers.make_item(Item.Kind.BLANK, grade=made.blank.grade, section=made.blank.section)
    data(program.post("patterns", {"code": "NP", "name": "a new one", "items": blank.code}), 201)
    blank.refresh_from_db()
    assert blank.pattern is not None
    assert blank.pattern.code == "NP"
    tag = program.get("patterns/NP").headers["ETag"]
    taken = program.ask("PATCH", "patterns/NP", {"items": made.head.code}, If_Match=tag)
    assert made.head.code in problem(taken, 422, "invalid")["detail"]
    bar = makers.make_item(Item.Kind.BAR, grade=made.blank.grade, section=made.blank.section)
    refused = program.ask("PATCH", "patterns/NP", {"items": bar.code}, If_Match=tag)
    assert "is a bar" in problem(refused, 422, "invalid")["detail"]
