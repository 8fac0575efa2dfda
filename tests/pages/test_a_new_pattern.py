"""A shop writes down its machines, its tooling and a pattern of its own, and starts a run of it."""

import pytest

from inventory.models import Item, Machine, Pattern, Route, Run, Step, ToolingSet
from tests import forge, makers
from tests.pages.pressing import follow, press, text
from tests.people import client_of, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _shop(db: None) -> None:
    make_shop()


def test_from_an_empty_shop_to_the_first_run() -> None:
    desk = client_of("desk")
    for code, name, kind in (("HAMMER", "power hammer", "hammer"), ("PRESS", "eye press", "press")):
        answer = press(desk, "/floor/machines/new", code=code, name=name, kind=kind)
        assert f"{name} is written down." in text(follow(desk, answer))
    answer = desk.post(
        "/floor/tooling/new",
        {"code": "t4", "name": "eye punch", "machines": ["HAMMER", "PRESS"], "dress_at": "300", "request_key": ""},
    )
    assert "eye punch (T4) is not in: power hammer, eye press." in text(follow(desk, answer)).replace("\n", " ")
    tooling = ToolingSet.objects.get()
    assert (tooling.change_minutes, tooling.dress_at, tooling.machines.count()) == (30, 300, 2)

    grade, section = makers.make_grade(), makers.make_section()
    blank = makers.make_item(Item.Kind.BLANK, grade=grade, section=section, blank_length_nm=92_075_000)
    head = makers.make_item(Item.Kind.HEAD, grade=grade)
    made = press(desk, "/floor/patterns/new", code="np", name="napping hammer", items=f"{blank.code}, {head.code}")
    page = text(follow(desk, made))
    assert "napping hammer is written down. Give it a route next." in page
    assert f"Made by it: {blank.code} , {head.code} ." in page
    gas = makers.make_item(Item.Kind.CONSUMABLE, name="propane in bottles", unit=Item.Unit.MG)
    belt = makers.make_item(Item.Kind.CONSUMABLE, name="a belt")
    wrong = press(desk, "/floor/patterns/NP", do="route", seed="in series with tooling", use_0=belt.code)
    assert f"Propane : {belt.code} is kept by the piece, not by weight; choose another item." in text(wrong)
    asked = {"seed": "in series with tooling", "tooling": "T4", "new": "on", "use_0": gas.code, "use_1": belt.code}
    route = press(desk, "/floor/patterns/NP", do="route", **asked)
    page = text(follow(desk, route))
    assert "version 1" in page
    assert "propane in bottles first forging heat 90 lb (40.82 kg)" in page
    makers.put_in(blank, 12, melt=makers.make_melt(grade=grade))
    press(client_of("hand"), f"/floor/start/{head.code}", wanted="6", start="8")
    run = Run.objects.get()
    assert (run.pattern.code, run.route.steps.filter(tooling=tooling).count()) == ("NP", 2)
    assert {machine.code for step in run.route.steps.all() for machine in step.machines.all()} == {"HAMMER", "PRESS"}


def test_what_is_wrong_is_said_and_nothing_is_written_down() -> None:
    desk = client_of("desk")
    for address, typed, said in (
        ("/floor/machines/new", {"code": "9H", "name": "hammer", "kind": "hammer"}, "must begin with a letter"),
        ("/floor/machines/new", {"code": "H", "name": "hammer", "kind": "loom"}, "not"),
        ("/floor/tooling/new", {"code": "T4", "name": "eye punch"}, "machine"),
        ("/floor/patterns/new", {"code": "NP", "name": "napping hammer", "items": "NO-SUCH"}, "is no item of the book"),
    ):
        answer = desk.post(address, {**typed, "request_key": ""})
        assert answer.status_code == 422, address
        assert said in text(answer), address
    assert (Machine.objects.count(), ToolingSet.objects.count(), Pattern.objects.count()) == (0, 0, 0)


def test_hands_are_not_offered_what_the_desk_writes_down() -> None:
    hand = client_of("hand")
    assert "New pattern" not in text(hand.get("/floor/patterns"))
    assert "New machine" not in text(hand.get("/floor/tooling"))
    for address in ("/floor/patterns/new", "/floor/machines/new", "/floor/tooling/new"):
        assert hand.get(address).status_code == 403
    assert "New pattern" in text(client_of("desk").get("/floor/patterns"))


def test_the_desk_says_who_can_do_a_step_and_runs_that_were_begun_keep_theirs() -> None:
    made = forge.make_forge()
    run, desk, address = made.start(4), client_of("desk"), f"/floor/patterns/{made.pattern.code}/step/{forge.CHECKED}"
    smith = makers.make_person(name="Ada Invented")
    page = text(desk.get(f"/floor/patterns/{made.pattern.code}"))
    assert "tempered and checked" in page
    first = text(desk.get(address))
    assert f"Step {forge.CHECKED} of" in first
    asked = {
        "hands": str(smith.pk),
        "people": "1",
        "seconds_each": "2:30",
        "causes": f"quench crack\nsoft face, back to {forge.GROUND}\n",
    }
    page = text(follow(desk, press(desk, address, **asked)))
    assert "Tempered and checked is changed from the next run on, version 2." in page
    assert "1 of Ada Invented" in page
    now = Step.objects.get(route__pattern=made.pattern, route__version=2, number=forge.CHECKED)
    assert (now.seconds_each, [one.name for one in now.hands.all()]) == (150, ["Ada Invented"])
    assert [(c.name, c.rework_to) for c in now.causes.order_by("pk")] == [
        ("quench crack", None),
        ("soft face", forge.GROUND),
    ]
    run.refresh_from_db()
    assert (run.route.version, made.start(4).route.version) == (1, 2)
    assert "stands like that already; change something" in text(press(desk, address))


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("causes", "soft face, back to 40", "soft face goes back to a step that is not there"),
        ("causes", "soft face, again", "soft face, again: write the cause in up to 40 signs, alone or with"),
        ("causes", "soft\nsoft", "one is written twice"),
        ("seconds_each", "3:75", "a whole number from 0 to 59"),
        ("seconds_each", "ten", "53 or 53.5"),
        ("people", "0", "1 to 20"),
        ("hands", "999999", "hands"),
    ],
)
def test_a_step_typed_wrong_says_what_would_work(field: str, typed: str, said: str) -> None:
    made = forge.make_forge()
    answer = press(client_of("desk"), f"/floor/patterns/{made.pattern.code}/step/{forge.CHECKED}", **{field: typed})
    assert answer.status_code != 302
    assert said in text(answer) or field == "hands", text(answer)
    assert Route.objects.filter(pattern=made.pattern).count() == 1
