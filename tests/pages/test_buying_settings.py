"""The owner's settings about buying and letters: kept, refused in words, and gone by the next night."""

import re

import pytest

from shop.shared import buying_settings, clock, shop_row
from shop.shared.models import AuditLine, Recipient, Shop
from tests import makers
from tests.people import client_of, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


@pytest.fixture(autouse=True)
def shop(db: None) -> Shop:
    return make_shop()


def sent(client, address: str, **typed: object):
    """Send the page's first form as it stands, with some fields typed anew."""
    page = client.get(address).content.decode()
    key = re.search(r'name="request_key" value="(\w+)"', page)
    assert key is not None
    return client.post(address, {"request_key": key.group(1), **typed})


BUYING = {
    "holding": "25", "order_cost": "12.50", "spend": "900", "dry_often": "99", "dry_sometimes": "94", "dry_seldom": "80",
    "lp_gas": "200 lb", "flammable": "30 gal", "weekly_day": "0",
    "steel_papers": "With the steel:\r\n  a test report.",
}  # fmt: skip


def test_buying_is_kept_as_typed() -> None:
    client = client_of("owner")
    assert sent(client, "/settings/buying", **BUYING).status_code == 302
    kept = buying_settings.of(shop_row.the_shop())
    assert (kept.holding_percent, kept.order_cost_minor, kept.spend_minor) == (25, 1_250, 90_000)
    assert (kept.dry_often, kept.dry_sometimes, kept.dry_seldom, kept.weekly_day) == (99, 94, 80, 0)
    assert (kept.lp_gas_most_mg, kept.flammable_most_ul) == (90_718_474, 113_562_354)
    assert kept.steel_papers == "With the steel: a test report."
    page = client.get("/settings/buying").content.decode()
    assert 'value="200 lb"' in page
    assert AuditLine.objects.filter(action="buying settings changed").count() == 1


def test_what_is_not_touched_is_kept_to_the_milligram() -> None:
    client = client_of("owner")
    page = client.get("/settings/buying").content.decode()
    gas = re.search(r'name="lp_gas" value="([^"]+)"', page)
    oil = re.search(r'name="flammable" value="([^"]+)"', page)
    assert gas is not None
    assert oil is not None
    assert sent(client, "/settings/buying", **{**BUYING, "lp_gas": gas[1], "flammable": oil[1]}).status_code == 302
    kept = buying_settings.of(shop_row.the_shop())
    assert (kept.lp_gas_most_mg, kept.flammable_most_ul) == (136_077_711, 227_124_707)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("holding", "101"),
        ("dry_often", "49"),
        ("dry_seldom", "100"),
        ("lp_gas", "much"),
        ("order_cost", "-1"),
        ("steel_papers", "x" * 301),
        ("steel_papers", "a\x00b"),
    ],
)
def test_what_no_shop_can_have_is_refused_and_changes_nothing(field: str, typed: str) -> None:
    answer = sent(client_of("owner"), "/settings/buying", **{**BUYING, field: typed})
    assert answer.status_code == 422
    assert "Nothing has been written down yet." in answer.content.decode()
    assert buying_settings.of(shop_row.the_shop()) == buying_settings.Buying()


def test_letters_are_chosen_person_by_person() -> None:
    with makers.transaction.atomic():
        shop_row.set_recipients([("A", "a@example.org"), ("B", "b@example.org")], at=clock.now(), by="tests")
    one, other = Recipient.objects.order_by("email")
    client = client_of("owner")
    assert sent(client, "/settings/letters", who=str(one.pk), parts=["order", "late"], weekly="on").status_code == 302
    one.refresh_from_db()
    other.refresh_from_db()
    assert (one.parts, one.weekly) == (["order", "late"], True)
    assert (other.parts, other.weekly) == ([], False)
    answer = sent(client, "/settings/letters", who=str(one.pk))
    assert answer.status_code == 422
    assert "Tick one part at least" in answer.content.decode()
    assert sent(client, "/settings/letters", who=str(one.pk), parts=["lunch"]).status_code == 422


def test_only_the_owner_comes_here() -> None:
    assert client_of("desk").get("/settings/buying").status_code == 403
    assert client_of("hand").get("/settings/letters").status_code == 403
