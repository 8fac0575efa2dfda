"""What suppliers ask: terms and carriage whole, prices replaced, wrong ones refused in words; pages and API say the same."""

import re

import pytest
from django.db import transaction

from inventory.models import Freight, Item, Supplier, SupplierPrice
from inventory.services import supplier_terms as services
from inventory.services.supplier_terms import Step
from shop.shared.errors import Invalid, NotFound
from shop.shared.models import AuditLine
from tests import makers
from tests.api.asking import Program, data, problem
from tests.makers import AT
from tests.people import client_of, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


@pytest.fixture
def firm(db: None) -> Supplier:
    make_shop()
    return Supplier.objects.create(name="Invented turnery")


def set_terms(firm: Supplier, *freight: Step, **facts: object) -> Supplier:
    with transaction.atomic():
        return services.set_terms(
            firm, **{"min_order_minor": 0, "order_cost_minor": None, "lead_days": None, **facts},  # type: ignore[arg-type]
            freight=freight, at=AT, by=makers.actor(),
        )  # fmt: skip


def note(firm: Supplier, item: Item, minor: int, **facts: object) -> SupplierPrice:
    with transaction.atomic():
        return services.note_price(firm, item, minor, noted_on=AT.date(), at=AT, by=makers.actor(), **facts)  # type: ignore[arg-type]


def test_carriage_is_written_anew_as_a_whole_and_audited_once(firm: Supplier):
    set_terms(firm, Step(900), Step(0, from_minor=30_000), Step(3_000, from_mass_mg=90_000_000), min_order_minor=10_000)
    assert Freight.objects.filter(supplier=firm).count() == 3
    set_terms(firm, Step(800), min_order_minor=10_000)
    assert [one.freight_minor for one in Freight.objects.filter(supplier=firm)] == [800]
    set_terms(firm, Step(800), min_order_minor=10_000)
    assert AuditLine.objects.filter(action="supplier terms changed").count() == 2


@pytest.mark.parametrize(
    ("freight", "facts", "field"),
    [
        ((Step(1), Step(2)), {}, "freight"),
        ((Step(1, 5, 5),), {}, "freight"),
        ((Step(-1),), {}, "freight"),
        (tuple(Step(1, n) for n in range(13)), {}, "freight"),
        ((), {"min_order_minor": -1}, "min_order"),
        ((), {"lead_days": 731}, "lead_days"),
    ],
)
def test_terms_that_cannot_be_are_refused_whole(firm: Supplier, freight, facts, field):
    set_terms(firm, Step(900))
    with pytest.raises(Invalid) as refused:
        set_terms(firm, *freight, **facts)
    assert field in refused.value.fields
    assert Freight.objects.get(supplier=firm).freight_minor == 900


def test_a_price_of_the_same_thing_replaces_the_one_before(firm: Supplier):
    item, bar = makers.make_item(), makers.make_item(Item.Kind.BAR)
    note(firm, item, 6_000)
    note(firm, item, 5_500, from_qty=5)
    made = note(firm, item, 6_200)
    assert SupplierPrice.objects.filter(item=item).count() == 2
    assert made.price_minor == 6_200
    assert note(firm, bar, 9_800, length_nm=20 * makers.FOOT_NM).length_nm == 20 * makers.FOOT_NM
    for wrong in ({"length_nm": 5}, {"from_qty": 0}, {"bundle": 0}):
        with pytest.raises(Invalid):
            note(firm, item, 1, **wrong)
    with pytest.raises(Invalid, match="in which length"):
        note(firm, bar, 1)
    with transaction.atomic():
        services.take_price_away(firm, made.pk, at=AT, by=makers.actor())
    with pytest.raises(NotFound), transaction.atomic():
        services.take_price_away(firm, made.pk, at=AT, by=makers.actor())


def sent(client, address: str, **typed: object):
    page = client.get(address).content.decode()
    key = re.search(r'name="request_key" value="(\w+)"', page)
    assert key is not None
    return client.post(address, {"request_key": key.group(1), **typed})


def test_the_pages_read_terms_and_prices_as_they_are_typed(firm: Supplier):
    client, bar = client_of("desk"), makers.make_item(Item.Kind.BAR, code="B-1")
    address = f"/door/supplier/{firm.pk}"
    typed = {
        "email": "",
        "phone": "12",
        "lead_days": "9",
        "min_order": "100.00",
        "order_cost": "",
        "freight": "9.00\nfrom 300.00: 0\nfrom 200 lb: 30.00",
    }
    assert sent(client, f"{address}/terms", **typed).status_code == 302
    steps = {(one.from_minor, one.from_mass_mg): one.freight_minor for one in Freight.objects.filter(supplier=firm)}
    assert steps == {(0, 0): 900, (30_000, 0): 0, (0, 90_718_474): 3_000}
    page = client.get(f"{address}/terms").content.decode()
    assert "from 300.00: 0.00" in page
    assert sent(client, f"{address}/prices", item="b-1", length="20 ft", price="98.00", bundle="2").status_code == 302
    price = SupplierPrice.objects.get(item=bar)
    assert (price.length_nm, price.price_minor, price.bundle, price.from_qty) == (20 * makers.FOOT_NM, 9_800, 2, 1)
    page = client.get(f"{address}/prices").content.decode()
    assert "98.00" in page
    assert sent(client, f"{address}/prices", take=str(price.pk)).status_code == 302
    assert not SupplierPrice.objects.exists()
    assert sent(client, f"{address}/terms", **{**typed, "freight": "lots"}).status_code == 422
    assert sent(client, f"{address}/prices", item="NONE", price="1.00").status_code == 422
    assert sent(client, "/door/suppliers", name="Another firm", email="", phone="").status_code == 302
    assert "Another firm" in client.get("/door/suppliers").content.decode()


def test_a_step_in_kilograms_is_kept_when_the_page_is_saved_as_it_stands(firm: Supplier):
    set_terms(firm, Step(3_000, from_mass_mg=90_000_000))
    client, address = client_of("desk"), f"/door/supplier/{firm.pk}/terms"
    shown = re.search(r'name="freight"[^>]*>([^<]*)<', client.get(address).content.decode())
    assert shown is not None
    before = AuditLine.objects.filter(action="supplier terms changed").count()
    typed = {"email": "", "phone": "", "lead_days": "", "min_order": "0", "order_cost": "", "freight": shown[1].strip()}
    assert sent(client, address, **typed).status_code == 302
    assert Freight.objects.get(supplier=firm).from_mass_mg == 90_000_000
    assert AuditLine.objects.filter(action="supplier terms changed").count() == before


def test_a_list_of_prices_that_is_full_still_takes_a_new_price_of_the_same_thing(firm: Supplier, monkeypatch):
    monkeypatch.setattr(services, "MOST_PRICES", 1)
    item, other = makers.make_item(), makers.make_item()
    note(firm, item, 6_000)
    assert note(firm, item, 6_200).price_minor == 6_200
    with pytest.raises(Invalid, match="are noted already"):
        note(firm, other, 1)


def test_a_price_of_what_is_weighed_wants_what_it_is_bought_by(firm: Supplier):
    oil = makers.make_item("consumable", unit="ul")
    with pytest.raises(Invalid, match="write first by what it is bought"):
        note(firm, oil, 1_200)


def test_a_program_that_may_see_costs_reads_and_notes_them(firm: Supplier):
    program, item = Program(), makers.make_item(code="HA16")
    body = {
        "min_order": "100.00",
        "lead_days": 9,
        "freight": [{"freight": "9.00"}, {"from_mass": "200 lb", "freight": "30.00"}],
    }
    read = program.get(f"suppliers/{firm.pk}/terms")
    problem(program.post(f"suppliers/{firm.pk}/terms", body), 428)
    terms = data(program.post(f"suppliers/{firm.pk}/terms", body, If_Match=read["ETag"]))
    problem(program.post(f"suppliers/{firm.pk}/terms", {}, If_Match=read["ETag"]), 412)
    problem(Program("stock:write").post(f"suppliers/{firm.pk}/terms", {}, If_Match="*"), 403)
    assert [one["freight"]["amount"] for one in terms["freight"]] == ["9.00", "30.00"]
    assert data(program.get("suppliers"))["rows"] == [terms]
    made = data(
        program.post(f"suppliers/{firm.pk}/prices", {"item": "HA16", "price": "60.00", "from_quantity": 5}), 201
    )
    assert data(program.get(f"suppliers/{firm.pk}/prices"))["rows"] == [made]
    assert program.post(f"suppliers/{firm.pk}/prices/{made['id']}/take-away").status_code == 204
    problem(program.post(f"suppliers/{firm.pk}/prices/{made['id']}/take-away"), 404)
    problem(program.post(f"suppliers/{firm.pk}/prices", {"item": "NONE", "price": "1.00"}), 422)
    problem(program.get("suppliers/999999/terms"), 404)
    problem(Program("stock:read").get("suppliers"), 403)
    assert item.code == "HA16"
