"""The second look and the saw, asked for by a program."""

import datetime as dt

import pytest
from django.db import transaction

from inventory.models import Bar, Claim, Cut, Entry, Holding, Supplier
from inventory.services import checking_in, steel_items
from shop.flows import checking
from shop.shared import clock
from shop.shared.units import parse_length
from tests.api.asking import Program, data, problem
from tests.makers import AT, actor, make_grade, make_item, put_in

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
STEEL = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "A7731", "bars": "2 @ 20 ft"}


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    make_grade("1045")
    return made


def came(program: Program, **facts: str) -> int:
    line = {**STEEL, "measured": "no", "certificate": "to come", **facts}
    return data(program.post("deliveries", {"supplier": "Example Steel", "lines": [line]}), 201)["number"]


def about(checks: dict, subject: str) -> dict:
    return next(one for one in checks["lines"][0]["findings"] if one["about"] == subject)


def test_bars_by_the_paper_wait_at_the_door_until_the_second_look(program: Program) -> None:
    number = came(program, damage="one bent")
    bar = Bar.objects.order_by("pk")[0]
    problem(program.post(f"bars/{bar.number}/cuts", {"own_tooling": "1 ft", "left": "18 ft"}), 409)
    checks = data(program.get(f"deliveries/{number}/checks"))
    assert about(checks, "certificate")["words"] == "Certificate awaited."
    assert checks["claims"][0]["about"] == "damage"
    look = {"line": 1, "lengths": "20 ft 1/2 in, 19 ft", "sizes": "2.004/1.998, 1.752/1.748", "scale": "417 lb",
            "weighed_by": "own scale"}  # fmt: skip
    checks = data(program.post(f"deliveries/{number}/checks", look))
    assert about(checks, "wrong size")["good"] is False
    assert about(checks, "weight")["good"] is True
    assert Holding.objects.filter(place__code="RACK", on_hand__gt=0).count() == 2
    assert checking.check_book() == []


def test_a_line_is_answered_once_for_its_key(program: Program) -> None:
    number = came(program)
    body = {"line": 1, "answer": "refused", "note": "bent"}
    first = program.post(f"deliveries/{number}/answers", body, key="the-answer-to-that-lorry")
    again = program.post(f"deliveries/{number}/answers", body, key="the-answer-to-that-lorry")
    assert data(first) == data(again)
    assert not Holding.objects.filter(on_hand__gt=0).exists()
    problem(program.post(f"deliveries/{number}/answers", {"line": 1, "answer": "refused"}), 422)
    problem(program.post(f"deliveries/{number}/answers", {"line": 2, "answer": "accepted"}), 422)


@pytest.mark.parametrize(
    "look",
    [{"line": 9}, {"line": 1, "lengths": "1 @ 20 ft"}, {"line": 1, "sizes": "a/b"}, {"line": 1, "scale": "1 lb"}],
)
def test_a_look_that_cannot_be_changes_nothing(program: Program, look: dict) -> None:
    number = came(program)
    problem(program.post(f"deliveries/{number}/checks", look), 422)
    assert not Bar.objects.filter(measured=True).exists()


def test_blanks_of_two_kinds_come_off_one_bar(program: Program) -> None:
    came(program, measured="yes")
    bar = Bar.objects.order_by("pk")[0]
    with transaction.atomic():
        blanks = [
            steel_items.blank_item(bar.lot.item.grade, bar.section, parse_length(long).nm, at=AT, by=actor())
            for long in ("5 1/8 in", "3 5/8 in")
        ]
    pieces = [{"blank": blank.code, "count": count} for blank, count in zip(blanks, (6, 4), strict=True)]
    made = data(program.post(f"bars/{bar.number}/cuts", {"pieces": pieces, "left": "16 ft 2 1/8 in"}), 201)
    assert made["difference_mm"] == "0"
    assert [(one["blank"], one["count"], one["length"]["inches"]) for one in made["pieces"]] == [
        (blanks[0].code, 6, "5 1/8 in"), (blanks[1].code, 4, "3 5/8 in"),
    ]  # fmt: skip
    twice = {"pieces": [pieces[0], pieces[0]], "left": "18 ft"}
    problem(program.post(f"bars/{Bar.objects.order_by('pk')[1].number}/cuts", twice), 422)


def test_a_bar_is_cut_and_the_parts_are_the_bar(program: Program) -> None:
    came(program, measured="yes")
    bar = Bar.objects.order_by("pk")[0]
    asked = {"own_tooling": "1 ft", "left": "18 ft 11 15/16 in"}
    made = data(program.post(f"bars/{bar.number}/cuts", asked), 201)
    assert made["difference_mm"] == "0"
    assert made["kerfs"] == 1
    assert data(program.get(f"cuts?bar={bar.number}"))["rows"] == [made]
    problem(program.post(f"bars/{bar.number}/cuts", asked), 404)
    assert Cut.objects.count() == 1


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({}, 422),
        ({"pieces": 3}, 422),
        ({"pieces": [{"count": 3}]}, 422),
        ({"pieces": [{"blank": "NOPE", "count": 3}]}, 422),
        ({"own_tooling": "21 ft"}, 422),
        ({"own_tooling": "1 ft"}, 422),
        ({"own_tooling": "1 ft", "left": "2 ft"}, 422),
        ({"left": "20 ft"}, 422),
        ({"kerf": "x", "left": "9 ft + 9 ft"}, 422),
    ],
)
def test_a_cut_that_cannot_be_is_refused(program: Program, body: dict, status: int) -> None:
    came(program, measured="yes")
    bar = Bar.objects.order_by("pk")[0]
    problem(program.post(f"bars/{bar.number}/cuts", body), status)
    assert not Cut.objects.exists()


def test_doubtful_steel_is_taken_out_of_use_a_lot_or_a_whole_melt(program: Program) -> None:
    came(program, measured="yes")
    first, second = Bar.objects.order_by("pk")
    why = {"reason": "the spark test does not match"}
    assert data(program.post(f"lots/{first.lot.code}/not-to-be-used", why))["gave_way"] == []
    problem(program.post(f"lots/{first.lot.code}/not-to-be-used", why), 409)
    assert len(data(program.post(f"melts/{second.lot.melt_id}/not-to-be-used", why))["entries"]) == 1
    assert not Holding.objects.filter(place__code="RACK", on_hand__gt=0).exists()
    problem(program.post("melts/999/not-to-be-used", why), 404)
    problem(program.post("lots/L999/not-to-be-used", why), 404)
    assert checking.check_book() == []


def test_a_lot_that_is_not_to_be_used_is_used_again_or_scrapped(program: Program) -> None:
    came(program, measured="yes")
    first, second = Bar.objects.order_by("pk")
    why = {"reason": "the spark test does not match"}
    for bar in (first, second):
        problem(program.post(f"lots/{bar.lot.code}/use-again", why), 409)
        problem(program.post(f"lots/{bar.lot.code}/scrap", why), 409)
        data(program.post(f"lots/{bar.lot.code}/not-to-be-used", why))
    again, key = {"reason": "the certificate was found"}, "the-owner-said-so-at-noon"
    done = data(program.post(f"lots/{first.lot.code}/use-again", again, key=key))
    assert done["served"] == []
    assert data(program.post(f"lots/{first.lot.code}/use-again", again, key=key)) == done
    assert Holding.objects.get(lot=first.lot, on_hand__gt=0).place.code == "RACK"
    gone = data(program.post(f"lots/{second.lot.code}/scrap", {"reason": "the supplier does not want it back"}))
    assert [Entry.objects.get(pk=pk).reason for pk in gone["entries"]] == ["the supplier does not want it back"]
    assert not Holding.objects.filter(lot=second.lot, on_hand__gt=0, place__inside=True).exists()
    problem(program.post("lots/L999/use-again", again), 404)
    problem(program.post("lots/L999/scrap", again), 404)
    assert checking.check_book() == []


def test_a_key_that_only_books_stock_decides_nothing_about_doubtful_steel(program: Program) -> None:
    came(program, measured="yes")
    code = Bar.objects.order_by("pk")[0].lot.code
    clerk, why = Program("stock:read", "stock:write"), {"reason": "the spark test does not match"}
    data(clerk.post(f"lots/{code}/not-to-be-used", why))
    for what in ("use-again", "scrap"):
        assert problem(clerk.post(f"lots/{code}/{what}", why), 403)["needed_scope"] == "steel:decide"


def test_a_line_that_waits_is_served_by_what_is_used_again(program: Program) -> None:
    handle = make_item(code="HAN-1")
    lot = put_in(handle, 5)
    why = {"reason": "a crack in the wood"}
    data(program.post(f"lots/{lot.code}/not-to-be-used", why))
    order = {"customer": {"name": "Invented"}, "lines": [{"item": "HAN-1", "quantity": "4"}]}
    number = data(program.post("orders", order), 201)["number"]
    assert data(program.post(f"lots/{lot.code}/use-again", {"reason": "only a scratch"}))["served"] == [number]


def test_a_bar_whose_paint_is_lost_goes_on_under_another_number(program: Program) -> None:
    came(program, measured="yes")
    bar = Bar.objects.order_by("pk")[0]
    made = data(program.post(f"bars/{bar.number}/paint-lost", {"reason": "ground off"}), 201)
    assert made["was"] == bar.number
    assert data(program.get(f"bars/{made['bar']}"))["grade"] == "UNKNOWN"
    problem(program.post(f"bars/{made['bar']}/paint-lost", {"reason": "again"}), 409)
    problem(program.post(f"bars/{bar.number}/paint-lost", {"reason": "again"}), 404)


def test_the_days_for_a_claim_are_counted_from_the_day_on_the_shops_wall(program: Program) -> None:
    evening = dt.datetime(2026, 3, 6, 5, 30, tzinfo=dt.UTC)  # Thursday, half past eleven at night in Chicago
    with clock.frozen(evening):
        number = came(program)
        Supplier.objects.update(claim_days=1)
        body = {"about": "short", "words": "One bar is missing."}
        told = data(program.post(f"deliveries/{number}/claims", body), 201)
    assert told["claims"][0]["until"] == "2026-03-06", "Friday; counted from Friday it would be Monday"
    with transaction.atomic():
        claim = Claim.objects.get()
        checking_in.settle(claim, sent_on=None, settled="credit note 12", at=evening, by=actor())
    assert Claim.objects.get().settled_on == dt.date(2026, 3, 5)


def test_a_claim_is_kept_with_the_delivery(program: Program) -> None:
    number = came(program)
    told = data(program.post(f"deliveries/{number}/claims", {"about": "short", "words": "One bar is missing."}), 201)
    assert told["claims"][0]["words"] == "One bar is missing."
    problem(program.post(f"deliveries/{number}/claims", {"about": "mood", "words": "x"}), 422)
    problem(program.post("deliveries/99/claims", {"about": "short", "words": "x"}), 404)
