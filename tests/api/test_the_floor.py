"""The floor asked by a program: a run's whole life, what is refused, and what is learned."""

import pytest

from inventory.models import Item, Machine, OvenLoad, Pattern, Run
from orders.models import OrderLine
from shop.flows import checking
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
    assert done["count"]["rejects"] == [{"cause": "cheek split", "pieces": 1, "fate": "scrap"}]
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
