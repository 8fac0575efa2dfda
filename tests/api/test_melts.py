"""Melts asked for by a program: the balance adds up, and who has pieces is told to those who may know."""

from decimal import Decimal

import pytest

from inventory.models import Melt
from tests import makers
from tests.api.asking import Program, data, problem

pytestmark = pytest.mark.django_db
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
