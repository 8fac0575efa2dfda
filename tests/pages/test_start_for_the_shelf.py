"""A run for the shelf is started from the week: filled in with what is wanted, as far as blanks lie free."""

import pytest
from django.db import transaction
from django.test import Client

from inventory.models import Run
from orders.models import ForShelf
from orders.services import for_shelf
from tests import forge, makers
from tests.makers import AT, actor
from tests.pages.pressing import follow, forms, text
from tests.people import client_of, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.daily("sqlite")]


@pytest.fixture
def made() -> forge.Forge:
    """Forty-six blanks lie sawn; sixty are wished for the shelf."""
    make_shop()
    for login in ("ines", "marek"):
        make_person("hand", login)
    made = forge.make_forge(blanks=46)
    made.pattern.most_run = 60
    made.pattern.save()
    with transaction.atomic():
        for_shelf.ask(made.tool.item, 60, why="60 of bar 363; temper: 2 full loads.", at=AT, by=actor())
    return made


def plain(answer: object) -> str:
    return text(answer).replace("\u00a0", " ").replace("\u202f", " ")  # type: ignore[arg-type]


def begin(client: Client, made: forge.Forge, **typed: str) -> str:
    page = client.get(f"/floor/start?item={made.tool.item.code}&for=shelf", follow=True)
    (form,) = [one for one in forms(page) if "stock" in one.fields]
    return plain(follow(client, client.post(f"/floor/start/{made.head.code}", {**form.fields, **typed})))


def test_the_week_leads_to_the_start_filled_in_as_far_as_blanks_lie_free(made: forge.Forge) -> None:
    desk = client_of("desk")
    start = f"/floor/start?item={made.tool.item.code}&for=shelf"
    assert desk.get("/week").content.decode().count(start.replace("&", "&amp;")) >= 1
    page = desk.get(start, follow=True)
    assert page.redirect_chain == [(f"/floor/start/{made.head.code}?for=shelf", 302)]
    assert "60 for the shelf are in the week." in plain(page)
    assert "Only 46 of one mill heat lie sawn and free; what is not started stays in the week." in plain(page)
    (form,) = [one for one in forms(page) if "stock" in one.fields]
    assert form.fields["qty"] == "46"
    said = plain(follow(desk, desk.post(f"/floor/start/{made.head.code}", form.fields)))
    assert "46 started. 46 of them for the shelf; 14 for the shelf stay in the week." in said
    assert ForShelf.objects.get().pieces == 14
    week = plain(desk.get("/week"))
    assert f"What is left of 60, begun with run {Run.objects.get().code}." in week
    assert "60 of bar 363" not in week


def test_what_a_run_takes_at_most_is_filled_in(made: forge.Forge) -> None:
    made.pattern.most_run = 40
    made.pattern.save()
    page = client_of("desk").get(f"/floor/start/{made.head.code}?for=shelf")
    assert "A run takes up to 40; what is not started stays in the week." in plain(page)
    assert [one.fields["qty"] for one in forms(page) if "stock" in one.fields] == ["40"]


def test_what_orders_wait_for_and_the_shelf_add_up(made: forge.Forge) -> None:
    made.blanks(20)
    makers.make_order({made.tool.item: 10})
    desk = client_of("desk")
    listed = plain(desk.get("/floor/start"))
    assert "60 for the shelf are in the week." in listed
    assert "10wanted" in listed.replace(" ", "")
    said = begin(desk, made)
    assert "60 started. 49 of them for the shelf, 11 for orders, which come first; 11 for the shelf stay" in said
    assert "0wanted" in plain(desk.get("/floor/start")).replace(" ", "").partition("Heads")[2]


def test_the_start_for_orders_says_what_the_shelf_wants_too(made: forge.Forge) -> None:
    page = client_of("hand").get(f"/floor/start/{made.head.code}")
    assert "60 for the shelf are in the week." in plain(page)
    assert [one.fields["qty"] for one in forms(page) if "stock" in one.fields] == [""]


def test_an_item_that_is_not_made_here_leads_to_the_list(made: forge.Forge) -> None:
    for code in (made.tool.handle.code, "NONE", "\x00"):
        page = client_of("hand").get("/floor/start", {"item": code, "for": "shelf"})
        assert page.status_code == 200
