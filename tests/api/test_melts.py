"""Melts asked for by a program: the balance adds up, and who has pieces is told to those who may know."""

from decimal import Decimal

import pytest
from django.db import transaction

from inventory.models import Bar, Melt
from inventory.services import steel_items
from inventory.services.cutting import Blanks, SawJob
from inventory.services.reading import BarLength
from shop.flows import sawing, taking_out
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT, actor, stamp

pytestmark = [pytest.mark.django_db, pytest.mark.daily("postgresql")]
STEEL = {"grade": "1045", "shape": "round", "size": "2 in", "heat_number": "A7731", "bars": "2 @ 20 ft", "scale": "427 lb",
         "weighed_by": "own scale"}  # fmt: skip


@pytest.fixture
def program(db: None) -> Program:
    made = Program()
    makers.make_grade("1045")
    data(made.post("deliveries", {"supplier": "Example Steel", "lines": [STEEL]}), 201)
    return made


def test_the_parts_of_a_melt_are_what_came(program: Program) -> None:
    row = data(program.get("melts?heat_number=A7731"))["rows"][0]
    melt = data(program.get(f"melts/{row['id']}"))
    (stage,) = melt["balance"]
    assert sum(Decimal(part["mass"]["g"]) for part in stage["parts"]) == Decimal(stage["came"][0]["mass"]["g"])
    assert stage["came"][0]["known"] == "weighed"
    assert sum(Decimal(part["mass"]["g"]) for part in melt["whole"]["parts"]) == Decimal(melt["whole"]["received"]["g"])
    assert data(program.get("melts?grade=O1"))["rows"] == []
    problem(program.get("melts/99"), 404)


def test_what_a_melt_went_into_names_customers_only_to_those_who_may_know(program: Program) -> None:
    tool = makers.make_tool()
    head = makers.put_in(tool.head, 6)
    makers.put_in(tool.handle, 6)
    makers.put_in(tool.wedge, 12)
    makers.make_up(tool, 4)
    order = makers.make_order({tool.item: 3})
    makers.send(order)
    melt = Melt.objects.get(pk=head.melt_id)
    told = data(program.get(f"melts/{melt.pk}/went-into"))
    assert (told["sent"][0]["order"], told["sent"][0]["pieces"]) == (order.number, 3)
    assert told["sent"][0]["customer"] == order.customer.name
    shy = Program("stock:read")
    assert data(shy.get(f"melts/{melt.pk}/went-into"))["sent"][0]["customer"] is None


def test_what_a_melt_went_into_is_a_table_for_a_spreadsheet_too(program: Program) -> None:
    melt = makers.make_melt()
    head = makers.make_item("head")
    makers.put_in(head, 6, melt=melt)
    customer = makers.make_customer("=cmd()")
    order = makers.make_order({head: 3}, customer=customer)
    makers.send(order)
    with transaction.atomic():
        taking_out.take_out(head, 1, "gift", stamp=stamp(), for_whom="A neighbour")
        taken = taking_out.take_out(head, 1, "photo", stamp=stamp(), for_whom="An invented magazine")
    with transaction.atomic():
        taking_out.take_back(taken, 1, stamp=stamp())
    told = data(program.get(f"melts/{melt.pk}/went-into"))
    assert [(one["why"], one["for_whom"], one["pieces"]) for one in told["taken_out"]] == [("gift", "A neighbour", 1)]
    answer = program.get(f"melts/{melt.pk}/went-into", Accept="text/csv")
    assert answer["Content-Type"].startswith("text/csv")
    sheet = answer.content.decode().splitlines()
    assert len(sheet) == 3
    assert f'"sent",{order.number},' in sheet[1]
    assert "'=cmd()" in sheet[1]
    assert '"A neighbour"' in sheet[2]
    shy = Program("stock:read").get(f"melts/{melt.pk}/went-into", Accept="text/csv").content.decode()
    assert "neighbour" not in shy
    assert "cmd" not in shy
    assert len(shy.splitlines()) == 3


def test_more_than_had_come_stands_with_a_minus(program: Program) -> None:
    rest = Bar.objects.order_by("pk")[0]
    with transaction.atomic():
        blank = steel_items.blank_item(rest.lot.item.grade, rest.section, 100_000_000, at=AT, by=actor())
        job = SawJob(1_587_500, [Blanks(blank, 10)], left=[BarLength(rest.length_nm - 1_015_000_000, "taped")])
        sawing.cut(rest, job, stamp=stamp())
    melt = data(program.get(f"melts/{Melt.objects.get(heat_number='A7731').pk}"))
    (more,) = (row for row in melt["balance"][0]["parts"] if row["what"].startswith("found more"))
    assert more["quantity"] == "-0.875"
    assert more["mass"]["g"].startswith("-")


def test_melts_are_read_in_pages_that_follow_each_other(program: Program) -> None:
    for _ in range(4):
        makers.make_melt()
    first = data(program.get("melts?limit=3"))
    rest = data(program.get(first["next"]))
    ids = [row["id"] for row in (*first["rows"], *rest["rows"])]
    assert ids == sorted(ids)
    assert len(ids) == Melt.objects.count()
