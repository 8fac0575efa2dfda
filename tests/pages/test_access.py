"""Coming in, leaving, tablets, keys, links, settings: the pages, as a browser without script sees them."""

import datetime as dt
import re
import threading
from html import unescape

import pytest
from django.conf import settings as service
from django.contrib.sessions.models import Session
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.test import Client, override_settings

from shop.access.models import ApiKey, FeedLink, LoginFailure, OneTimeLink, Person, Tablet
from shop.access.services import feeds, keys, links, passwords, people, tablets, tidy, tries
from shop.shared import audit, clock, series, shop_row
from shop.shared.errors import Invalid, Refusal
from shop.shared.models import AuditLine, Shop
from shop.shared.transactions import entry_point
from tests.people import PASSWORD, client_of, log_in, make_key, make_person, make_shop, make_tablet, touch

pytestmark = pytest.mark.daily("sqlite")

NOON = dt.datetime(2026, 3, 4, 12, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def text_of(answer) -> str:
    return unescape(re.sub(r"\s+", " ", answer.content.decode()))


# ---- the first owner


def _owner_path() -> str:
    with entry_point():
        return links.make_owner_link(at=clock.now()).removeprefix(service.BASE_ADDRESS)


NEW_SHOP = {
    "shop_name": "Test Forge",
    "zone": "Europe/Vienna",
    "name": "Ada",
    "login": "ada",
    "password": PASSWORD,
}


@pytest.mark.django_db
def test_an_empty_shop_has_no_account_and_the_owner_link_makes_one_once(capsys) -> None:
    assert not Person.objects.exists()
    call_command("owner_link")
    path = capsys.readouterr().out.strip().removeprefix(service.BASE_ADDRESS)
    client = Client()
    assert client.get(path).status_code == 200
    assert client.get(path).status_code == 200, "looking does not use it up"
    assert client.post(path, NEW_SHOP).status_code == 302
    owner = Person.objects.get()
    assert (owner.login, owner.role, owner.has_usable_password()) == ("ada", "owner", True)
    assert shop_row.the_shop().zone == "Europe/Vienna"
    assert client.get("/people").status_code == 200, "the owner is in already"
    again = Client().post(path, {**NEW_SHOP, "login": "eve"})
    assert again.status_code == 404
    assert "owner_link" in text_of(again)
    assert Person.objects.count() == 1
    with pytest.raises(CommandError, match="an owner already"):
        call_command("owner_link")


@pytest.mark.django_db
def test_the_owner_link_ends_after_a_day_and_a_new_one_ends_the_old() -> None:
    with clock.frozen(NOON):
        first = _owner_path()
        second = _owner_path()
        assert Client().get(first).status_code == 404
        assert Client().get(second).status_code == 200
    with clock.frozen(NOON + dt.timedelta(hours=24)):
        assert Client().get(second).status_code == 404
        assert Client().post(second, NEW_SHOP).status_code == 404
    assert not Person.objects.exists()


@pytest.mark.django_db
def test_a_refused_owner_form_keeps_what_was_typed_and_leaves_the_link_usable() -> None:
    path, client = _owner_path(), Client()
    answer = client.post(path, {**NEW_SHOP, "password": "short"})
    assert answer.status_code == 422
    assert "It has 5 characters; 10 or more would work" in text_of(answer)
    assert 'value="Ada"' in text_of(answer)
    assert "short" not in text_of(answer).replace("shorter", "")
    assert not Person.objects.exists()
    assert not Shop.objects.exists()
    assert client.post(path, NEW_SHOP).status_code == 302


@pytest.mark.django_db
def test_only_the_hash_of_the_owner_link_is_kept() -> None:
    token = _owner_path().removeprefix("/start/")
    assert len(token) >= 43, "256 bits"
    assert token not in str(OneTimeLink.objects.values().get())


# ---- the log-in


def test_a_person_logs_in_with_a_new_session_key_and_logs_out_on_the_server_too(shop: Shop) -> None:
    client, desk = Client(), make_person("desk", login="mara")
    client.get("/login")
    session = client.session
    session["left"] = "from before"
    session.save()
    client.cookies[service.SESSION_COOKIE_NAME] = session.session_key
    log_in(client, desk)
    inside = client.cookies[service.SESSION_COOKIE_NAME].value
    assert inside != session.session_key
    assert "left" not in client.session
    cookie = client.cookies[service.SESSION_COOKIE_NAME]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")
    assert client.get("/my-password").status_code == 200
    assert client.post("/logout").status_code == 302
    assert not Session.objects.filter(session_key=inside).exists()
    client.cookies[service.SESSION_COOKIE_NAME] = inside
    assert client.get("/my-password").status_code == 302


def test_a_wrong_password_an_unknown_name_and_a_disabled_person_get_the_same_sentence(shop: Shop) -> None:
    desk, gone = make_person("desk"), make_person("desk", is_active=False)
    said = {
        re.search(r'class="say"[^>]*>([^<]+)', text_of(answer)).group(1)
        for login, password in [(desk.login, "wrong words"), ("nobody", PASSWORD), (gone.login, PASSWORD)]
        for answer in [Client().post("/login", {"login": login, "password": password})]
        if answer.status_code == 422
    }
    assert said == {"Log-in and password do not fit together; type both again."}


def test_the_log_in_form_keeps_the_name_and_never_prints_the_password_back(shop: Shop) -> None:
    answer = Client().post("/login", {"login": "mara", "password": "not hers at all"})
    assert 'value="mara"' in text_of(answer)
    assert "not hers at all" not in text_of(answer)


def test_a_form_without_its_mark_is_refused(shop: Shop) -> None:
    desk = make_person("desk")
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post("/login", {"login": desk.login, "password": PASSWORD})
    assert answer.status_code == 403
    assert "open too long" in text_of(answer)


def test_a_browser_names_the_origin_of_its_forms_and_another_origin_is_refused(shop: Shop) -> None:
    # Under "no-referrer" browsers send "Origin: null" with a form, and every log-in would be refused.
    desk, strict = make_person("desk"), Client(enforce_csrf_checks=True)
    page = strict.get("/login")
    assert page["Referrer-Policy"] == "same-origin"
    mark = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.content.decode()).group(1)
    typed = {"login": desk.login, "password": PASSWORD, "csrfmiddlewaretoken": mark}
    assert strict.post("/login", typed, headers={"origin": "http://elsewhere.example"}).status_code == 403
    assert strict.post("/login", typed, headers={"origin": "http://testserver"}).status_code == 302


def test_leaving_is_never_a_link(shop: Shop) -> None:
    client = client_of("desk")
    assert client.get("/logout").status_code == 405
    assert client.get("/my-password").status_code == 200


@pytest.mark.parametrize(
    "wanted",
    [
        "https://elsewhere.example/",
        "//elsewhere.example/",
        "/\\elsewhere.example/",
        "javascript:alert(1)",
        "elsewhere.example",
        "///elsewhere.example",
        "/\t/elsewhere.example",
        "http:/x",
    ],
)
def test_the_log_in_sends_nobody_to_another_address(shop: Shop, wanted: str) -> None:
    desk = make_person("desk")
    answer = Client().post("/login", {"login": desk.login, "password": PASSWORD, "next": wanted})
    assert answer["Location"] == "/"


def test_the_log_in_leads_back_to_the_page_that_was_asked_for(shop: Shop) -> None:
    desk, client = make_person("desk"), Client()
    door = client.get("/my-password?x=1")
    assert door["Location"] == "/login?next=%2Fmy-password%3Fx%3D1"
    form = client.get(door["Location"])
    assert 'name="next" value="/my-password?x=1"' in text_of(form)
    answer = client.post("/login", {"login": desk.login, "password": PASSWORD, "next": "/my-password?x=1"})
    assert answer["Location"] == "/my-password?x=1"


def test_a_session_ends_after_twelve_hours_even_in_use(shop: Shop) -> None:
    with clock.frozen(NOON):
        client = client_of("desk")
    with clock.frozen(NOON + dt.timedelta(hours=11, minutes=59)):
        assert client.get("/my-password").status_code == 200
    with clock.frozen(NOON + dt.timedelta(hours=12)):
        assert client.get("/my-password").status_code == 302


def test_a_disabled_person_is_out_at_the_next_request(shop: Shop) -> None:
    owner, desk = make_person("owner"), make_person("desk")
    client, of_owner = log_in(Client(), desk), log_in(Client(), owner)
    assert client.get("/my-password").status_code == 200
    typed = {"name": desk.name, "role": "desk", "on_tablet": "on"}
    assert of_owner.post(f"/people/{desk.pk}", typed).status_code == 302
    assert client.get("/my-password").status_code == 302
    assert Person.objects.get(pk=desk.pk).is_active is False


def test_a_new_password_ends_the_sessions_of_the_old_one(shop: Shop) -> None:
    desk = make_person("desk")
    here, elsewhere = log_in(Client(), desk), log_in(Client(), desk)
    wrong = here.post("/my-password", {"password": "not hers", "new": "anvil horn and heel"})
    assert wrong.status_code == 422
    answer = here.post("/my-password", {"password": PASSWORD, "new": "anvil horn and heel"})
    assert answer.status_code == 302
    assert here.get("/my-password").status_code == 200
    assert elsewhere.get("/my-password").status_code == 302
    log_in(Client(), desk, "anvil horn and heel")


def test_a_changed_role_holds_from_the_next_request(shop: Shop) -> None:
    desk = make_person("desk")
    client = log_in(Client(), desk)
    assert client.get("/people").status_code == 403
    with entry_point():
        people.change(desk, people.Particulars(desk.name, "owner"), at=clock.now(), by=None)
    assert client.get("/people").status_code == 200


def test_a_page_is_kept_in_no_cache(shop: Shop) -> None:
    client = client_of("owner")
    for address in ("/people", "/login", "/keys", "/no-such-page"):
        assert client.get(address)["Cache-Control"] == "no-store", address


def test_knowing_who_is_here_takes_two_queries_and_none_where_nobody_is(shop: Shop, django_assert_num_queries) -> None:
    client = client_of("hand")
    make_tablet(client)
    client.get("/my-password")
    with django_assert_num_queries(3):  # session, person with tablet, and the shop's name on the sheet
        client.get("/my-password")
    with django_assert_num_queries(0):
        client.get("/livez")
    with django_assert_num_queries(0):
        client.get("/api/v1/no-such-thing")


# ---- tries


def test_after_ten_wrong_passwords_a_log_in_waits_and_is_never_locked_for_good(shop: Shop) -> None:
    desk = make_person("desk")
    with clock.frozen(NOON):
        for _ in range(tries.PER_LOGIN):
            assert Client().post("/login", {"login": desk.login, "password": "a guess"}).status_code == 422
        right = Client().post("/login", {"login": desk.login.upper(), "password": PASSWORD})
        assert right.status_code == 429
        assert "Wait 15 minutes" in text_of(right)
        other = make_person("desk")
        log_in(Client(), other)
    with clock.frozen(NOON + tries.WINDOW):
        log_in(Client(), desk)


def test_one_address_cannot_try_name_after_name(shop: Shop) -> None:
    with clock.frozen(NOON):
        for number in range(tries.PER_ADDRESS):
            with entry_point():
                tries.take(f"name{number}", "192.0.2.7", at=NOON)
        with pytest.raises(tries.TooManyTries, match="from this address"), entry_point():
            tries.take("another", "192.0.2.7", at=NOON)
        with entry_point():
            tries.take("another", "192.0.2.8", at=NOON)


def test_a_right_password_gives_the_tries_back(shop: Shop) -> None:
    desk = make_person("desk")
    with clock.frozen(NOON):
        for _ in range(tries.PER_LOGIN - 1):
            Client().post("/login", {"login": desk.login, "password": "a guess"})
        log_in(Client(), desk)
        for _ in range(tries.PER_LOGIN - 1):
            Client().post("/login", {"login": desk.login, "password": "a guess"})
        log_in(Client(), desk)


def test_what_is_typed_as_a_name_is_not_kept_with_the_tries(shop: Shop) -> None:
    Client().post("/login", {"login": "perhaps a password", "password": "x"})
    assert "perhaps" not in str(list(LoginFailure.objects.values()))


def test_yesterdays_tries_are_tidied_away(shop: Shop) -> None:
    with entry_point():
        tries.take("mara", "192.0.2.7", at=NOON)
    with entry_point():
        assert tidy.tidy(at=NOON + dt.timedelta(hours=1)) == 0
    with entry_point():
        assert tidy.tidy(at=NOON + dt.timedelta(days=2)) == 2


@pytest.mark.django_db(transaction=True)
def test_guesses_sent_side_by_side_do_not_get_in_over_the_limit() -> None:
    make_shop()
    threads_wanted, let_in, broken, lock = 16, [], [], threading.Lock()
    gate = threading.Barrier(threads_wanted)

    def guess() -> None:
        try:
            gate.wait()
            for _ in range(4):
                try:
                    with entry_point():
                        tries.take("mara", "192.0.2.7", at=NOON)
                except tries.TooManyTries:
                    continue
                with lock:
                    let_in.append(1)
        except Exception as failure:  # noqa: BLE001 - shown by the assertion below
            broken.append(failure)
        finally:
            connections.close_all()

    # In-memory SQLite is one connection shared by the threads; there the guesses come one after another.
    in_memory = connection.vendor == "sqlite"
    if in_memory:
        for _ in range(threads_wanted * 4):
            try:
                with entry_point():
                    tries.take("mara", "192.0.2.7", at=NOON)
                let_in.append(1)
            except tries.TooManyTries:
                pass
    else:
        crowd = [threading.Thread(target=guess) for _ in range(threads_wanted)]
        for one in crowd:
            one.start()
        for one in crowd:
            one.join()
    assert broken == []
    assert len(let_in) == tries.PER_LOGIN


# ---- passwords


@pytest.mark.parametrize(
    ("password", "said"),
    [("too short", "9 characters"), ("password123", "tried first"), ("x" * 201, "201 characters")],
)
def test_a_weak_password_is_refused_with_what_would_work(password: str, said: str) -> None:
    with pytest.raises(Invalid, match=said) as refused:
        passwords.prepare(password, login="mara")
    assert set(refused.value.fields) == {"password"}


def test_ones_own_name_is_no_password() -> None:
    with pytest.raises(Invalid, match="own name"):
        passwords.prepare("Maximiliane", login="maximiliane")


def test_a_password_of_many_words_works_and_is_not_kept_as_typed() -> None:
    long = "forge welding wants a clean fire " * 4
    assert long not in passwords.prepare(long, login="mara")


# ---- tablets


def test_the_owner_enrols_a_tablet_and_their_own_session_on_it_ends(shop: Shop) -> None:
    client = client_of("owner")
    answer = client.post("/tablets", {"name": "by the hammer"})
    assert answer["Location"] == "/here"
    cookie = client.cookies[service.TABLET_COOKIE_NAME]
    assert (cookie["httponly"], cookie["samesite"], cookie["secure"]) == (True, "Lax", "")
    assert len(cookie.value) >= 43, "256 bits"
    assert cookie.value not in str(Tablet.objects.values().get())
    assert client.get("/tablets")["Location"].startswith("/here")
    assert "by the hammer" in text_of(client.get("/here"))


def test_a_touched_tile_makes_even_the_owner_a_hand_until_the_password_is_given(shop: Shop) -> None:
    owner, client = make_person("owner"), Client()
    make_tablet(client, owner=owner)
    touch(client, owner)
    page = client.get("/my-password")
    assert page.wsgi_request.person == owner
    assert page.wsgi_request.acting_role == "hand"
    door = client.get("/people")
    assert door["Location"] == "/login?next=%2Fpeople"
    assert f'value="{owner.login}"' in text_of(client.get(door["Location"]))
    log_in(client, owner)
    assert client.get("/people").wsgi_request.acting_role == "owner"


def test_on_a_tablet_a_password_holds_until_ten_idle_minutes_pass(shop: Shop) -> None:
    owner, client = make_person("owner"), Client()
    with clock.frozen(NOON):
        make_tablet(client, owner=owner)
        log_in(client, owner)
    for minutes in (9, 18, 27):
        with clock.frozen(NOON + minutes * MINUTE):
            assert client.get("/people").status_code == 200, minutes
    with clock.frozen(NOON + 37 * MINUTE):
        assert client.get("/people")["Location"].startswith("/here")
    with clock.frozen(NOON + 38 * MINUTE):
        assert client.get("/people").status_code == 302


def test_touching_a_tile_takes_the_owners_rights_away_again(shop: Shop) -> None:
    owner, hand, client = make_person("owner"), make_person("hand", password=None), Client()
    make_tablet(client, owner=owner)
    log_in(client, owner)
    touch(client, hand)
    assert client.get("/people").status_code == 302
    assert client.get("/my-password").wsgi_request.person == hand


def test_a_tile_works_on_an_enrolled_tablet_only(shop: Shop) -> None:
    hand = make_person("hand", password=None)
    bare = Client()
    assert bare.post("/here", {"who": hand.pk}).status_code == 302
    assert bare.get("/my-password").status_code == 302
    forged = Client()
    forged.cookies[service.TABLET_COOKIE_NAME] = "made-up"
    forged.post("/here", {"who": hand.pk})
    assert forged.get("/my-password").status_code == 302
    logged_in = client_of("desk")
    assert logged_in.post("/here", {"who": hand.pk}).status_code == 403


def test_a_tiles_session_is_worth_nothing_away_from_its_tablet(shop: Shop) -> None:
    hand, client = make_person("hand", password=None), Client()
    make_tablet(client)
    touch(client, hand)
    other = Client()
    make_tablet(other, "at the door")
    other.cookies[service.SESSION_COOKIE_NAME] = client.cookies[service.SESSION_COOKIE_NAME].value
    assert other.get("/my-password").status_code == 302


def test_a_revoked_tablet_is_out_at_the_next_request(shop: Shop) -> None:
    owner, client = make_person("owner"), Client()
    tablet = make_tablet(client, owner=owner)
    touch(client, make_person("hand", password=None))
    assert client.get("/my-password").status_code == 200
    assert log_in(Client(), owner).post(f"/tablets/{tablet.pk}/revoke").status_code == 302
    assert client.get("/my-password")["Location"].startswith("/login")


@pytest.mark.parametrize("who", ["", "0", "x", "987654", "-1", "9" * 40, "1e3", "²"])
def test_a_tile_of_nobody_is_refused_with_a_sentence(shop: Shop, who: str) -> None:
    client = Client()
    make_tablet(client)
    answer = client.post("/here", {"who": who})
    assert answer.status_code == 404
    assert "Touch another name." in text_of(answer)


def test_only_those_with_a_tile_stand_on_the_tablet(shop: Shop) -> None:
    make_person("hand", login="anna")
    make_person("hand", login="bert", on_tablet=False)
    make_person("hand", login="carl", is_active=False)
    assert [person.login for person in tablets.tiles() if person.role == "hand"] == ["anna"]


def test_when_a_tablet_was_used_is_written_at_most_once_a_minute(shop: Shop) -> None:
    client = Client()
    with clock.frozen(NOON):
        tablet = make_tablet(client)
    for seconds, noted in ((0, 0), (59, 0), (60, 60)):
        with clock.frozen(NOON + dt.timedelta(seconds=seconds)):
            client.get("/here")
        assert Tablet.objects.get(pk=tablet.pk).last_used_at == NOON + dt.timedelta(seconds=noted)


# ---- people


NEW_PERSON = {"name": "Mara", "login": "mara", "role": "desk", "password": PASSWORD, "on_tablet": "on"}


def test_the_owner_makes_a_person_who_can_log_in(shop: Shop) -> None:
    assert client_of("owner").post("/people", NEW_PERSON).status_code == 302
    mara = log_in(Client(), Person.objects.get(login="mara"))
    assert mara.get("/people").status_code == 403


def test_a_person_without_a_password_is_only_a_tile(shop: Shop) -> None:
    typed = {**NEW_PERSON, "role": "hand", "password": ""}
    assert client_of("owner").post("/people", typed).status_code == 302
    assert Client().post("/login", {"login": "mara", "password": ""}).status_code == 422
    assert [person.login for person in tablets.tiles() if person.role == "hand"] == ["mara"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "Nothing is written here yet"),
        ({"login": "Has Blanks"}, "Small letters, figures"),
        ({"login": "x" * 41}, "up to 40"),
        ({"role": "boss"}, "not on the list"),
        ({"role": "owner", "password": ""}, "an owner needs one"),
        ({"password": "short"}, "10 or more would work"),
        ({"name": "x" * 61}, "up to 60 would work"),
        ({"name": "a\x00b"}, "cannot be kept"),
    ],
)
def test_a_person_that_cannot_be_is_refused_beside_the_field(shop: Shop, typed: dict[str, str], said: str) -> None:
    client, before = client_of("owner"), Person.objects.count()
    answer = client.post("/people", {**NEW_PERSON, **typed})
    assert answer.status_code == 422
    beside = " ".join(re.findall(r'class="say"[^>]*>([^<]+)', text_of(answer)))
    assert said.lower() in beside.lower()
    assert Person.objects.count() == before


def test_two_people_cannot_share_a_log_in(shop: Shop) -> None:
    make_person("hand", login="mara")
    answer = client_of("owner").post("/people", NEW_PERSON)
    assert answer.status_code == 422
    assert "somebody already" in text_of(answer)


def test_the_last_owner_stays(shop: Shop) -> None:
    owner = make_person("owner")
    client = log_in(Client(), owner)
    typed = {"name": owner.name, "role": "desk", "is_active": "on"}
    answer = client.post(f"/people/{owner.pk}", typed)
    assert answer.status_code == 409
    assert "last owner" in text_of(answer)
    make_person("owner")
    assert client.post(f"/people/{owner.pk}", typed).status_code == 302
    assert client.get("/people").status_code == 403


def test_the_owner_sets_somebodys_password(shop: Shop) -> None:
    owner, desk = client_of("owner"), make_person("desk")
    inside = log_in(Client(), desk)
    assert owner.post(f"/people/{desk.pk}/password", {"password": "x"}).status_code == 422
    assert owner.post(f"/people/{desk.pk}/password", {"password": "anvil horn and heel"}).status_code == 302
    assert inside.get("/my-password").status_code == 302
    log_in(Client(), desk, "anvil horn and heel")


def test_a_person_is_made_from_the_command_line(shop: Shop, monkeypatch, capsys) -> None:
    monkeypatch.setattr("sys.stdin.readline", lambda: PASSWORD + "\n", raising=False)
    monkeypatch.setattr("sys.stdin", __import__("io").StringIO(PASSWORD + "\n"))
    call_command("add_person", "zoe", "--role", "owner")
    assert "zoe (owner)" in capsys.readouterr().out
    log_in(Client(), Person.objects.get(login="zoe"))
    with pytest.raises(CommandError, match="somebody already"):
        call_command("add_person", "zoe", "--no-password")


# ---- keys and links


def test_a_key_is_shown_once_and_works_until_it_is_revoked(shop: Shop) -> None:
    client = client_of("owner")
    answer = client.post("/keys", {"name": "web shop", "scopes": ["stock:read", "orders:write"]})
    text = re.search(r"bkn_[\w-]{43}", answer.content.decode()).group(0)
    assert text not in client.get("/keys").content.decode()
    row = ApiKey.objects.get()
    assert text not in str(ApiKey.objects.values().get())
    assert (row.prefix, row.scopes) == (text[:12], ["orders:write", "stock:read"])
    assert keys.find(text, at=clock.now()) == row
    assert keys.find(text[:-1], at=clock.now()) is None
    assert client.post(f"/keys/{row.pk}/revoke").status_code == 302
    assert keys.find(text, at=clock.now()) is None


def test_a_key_ends_on_its_day_at_the_shops_midnight(shop: Shop) -> None:
    Shop.objects.update(zone="America/Chicago")
    with clock.frozen(NOON):
        typed = {"name": "x", "scopes": ["stock:read"], "expires_at": "2026-03-05"}
        text = re.search(r"bkn_[\w-]{43}", client_of("owner").post("/keys", typed).content.decode()).group(0)
    ends = dt.datetime(2026, 3, 6, 6, tzinfo=dt.UTC)
    assert keys.find(text, at=ends - dt.timedelta(seconds=1))
    assert keys.find(text, at=ends) is None


@pytest.mark.parametrize(
    "typed",
    [
        {"scopes": []},
        {"scopes": ["everything"]},
        {"name": ""},
        {"expires_at": "2020-01-01"},
        {"expires_at": "31.12.2030"},
        {"expires_at": "9999-12-31"},
        {"expires_at": "0001-01-01"},
    ],
)
def test_a_key_that_cannot_be_is_refused(shop: Shop, typed: dict[str, object]) -> None:
    answer = client_of("owner").post("/keys", {"name": "web shop", "scopes": ["stock:read"], **typed})
    assert answer.status_code == 422
    assert 'class="say"' in text_of(answer)
    assert not ApiKey.objects.exists()


def test_when_a_key_was_used_is_written_at_most_once_a_minute(shop: Shop, django_assert_num_queries) -> None:
    key, text = make_key("stock:read")
    keys.note_use(key, at=NOON)
    again = keys.find(text, at=NOON)
    assert again is not None
    with django_assert_num_queries(0):
        keys.note_use(again, at=NOON + dt.timedelta(seconds=59))
    keys.note_use(again, at=NOON + MINUTE)
    assert ApiKey.objects.get().last_used_at == NOON + MINUTE


def test_a_link_is_shown_once_and_works_until_it_is_revoked(shop: Shop) -> None:
    with clock.frozen(NOON):
        client = client_of("owner")
        answer = client.post("/links", {"name": "price list", "expires_at": "2026-12-31"})
        found = re.search(r"/feed/([\w-]{12})\.([\w-]{27})/availability\.csv", answer.content.decode())
        public_id, secret = found.groups()
        assert secret not in client.get("/links").content.decode()
        assert secret not in str(FeedLink.objects.values().get())
        link = feeds.find(public_id, secret, at=NOON)
        assert link is not None
        feeds.note_use(link, at=NOON)
        feeds.note_use(link, at=NOON)
        assert FeedLink.objects.get().used == 2
        assert feeds.find(public_id, secret[:-1] + "A", at=NOON) is None or secret.endswith("A")
        assert feeds.find("x" * 12, secret, at=NOON) is None
        assert feeds.find(public_id, secret, at=NOON + dt.timedelta(days=303)) is None
        assert client.post(f"/links/{link.pk}/revoke").status_code == 302
        assert feeds.find(public_id, secret, at=NOON) is None


def test_a_link_for_a_calendar_gives_the_days_and_says_what_it_shows(shop: Shop) -> None:
    with clock.frozen(NOON):
        client = client_of("owner")
        answer = client.post("/links", {"name": "the wall", "expires_at": "2026-12-31", "sheet": "ship-dates.ics"})
        assert "on which day which order is to be sent" in text_of(answer)
        public_id, secret = re.search(
            r"/feed/(ics-[\w-]{12})\.([\w-]{27})/ship-dates\.ics", answer.content.decode()
        ).groups()
        assert feeds.find(public_id, secret, at=NOON, sheet=feeds.Sheet.CALENDAR) is not None
        assert feeds.find(public_id, secret, at=NOON) is None
        assert "days given" in text_of(client.get("/links"))
        assert client.post("/links", {"name": "x", "expires_at": "2026-12-31", "sheet": "all.db"}).status_code == 422
    assert FeedLink.objects.count() == 1


@pytest.mark.parametrize("day", ["", "2026-03-03", "2027-04-08", "2026-02-30"])
def test_a_link_ends_within_400_days(shop: Shop, day: str) -> None:
    with clock.frozen(NOON):
        answer = client_of("owner").post("/links", {"name": "price list", "expires_at": day})
    assert answer.status_code == 422
    assert not FeedLink.objects.exists()


@pytest.mark.parametrize("page", ["tablets", "keys", "links"])
def test_revoking_what_is_not_there_changes_nothing(shop: Shop, page: str) -> None:
    client = client_of("owner")
    lines = AuditLine.objects.count()
    assert client.post(f"/{page}/987654/revoke").status_code == 404
    assert client.post(f"/{page}/{10**30}/revoke").status_code == 404
    assert AuditLine.objects.count() == lines


# ---- settings


SETTINGS = {
    "name": "Test Forge",
    "address": "7 Sluice Lane\r\nHarrow Fen\r\n",
    "phone": " 555 0142 ",
    "email": "office@forge.example",
    "zone": "Europe/Vienna",
    "currency": "eur",
    "night_hour": "5",
    "quiet_days": ["5", "6"],
    "hold_minutes": "20",
    "closes_at": "16:30",
    "open_days": ["0", "1", "2", "3", "4", "5"],
    "opens_at": "7:15",
    "production_percent": "55",
    "oven_alone": "on",
    "carrier_by": "14:30",
    "carrier_days": ["1", "4"],
    "sure_one_off": "85",
    "sure_dealer": "92",
    "slips_below": "70",
    "kerf": "1.6 mm",
    "scale_step": "0.5 kg",
    "tape_error": "1/16 in",
    "recipients": "Ada <Ada@example.org>\n\nbert@example.org",
}


def test_the_owner_changes_the_shops_settings(shop: Shop) -> None:
    client = client_of("owner")
    assert client.post("/settings", SETTINGS).status_code == 302
    changed = shop_row.the_shop()
    assert (changed.zone, changed.currency, changed.night_hour, changed.quiet_days, changed.hold_minutes) == (
        "Europe/Vienna",
        "EUR",
        5,
        "5,6",
        20,
    )
    assert [(one.name, one.email) for one in shop_row.active_recipients()] == [
        ("Ada", "ada@example.org"),
        ("", "bert@example.org"),
    ]
    assert (changed.address, changed.phone) == ("7 Sluice Lane\nHarrow Fen", "555 0142")
    assert changed.email == "office@forge.example"
    assert (changed.kerf_nm, changed.scale_step_mg, changed.tape_error_nm) == (1_600_000, 500_000, 1_587_500)
    assert not changed.saw_before_certificate
    assert (changed.closes_at, changed.open_days) == (dt.time(16, 30), "0,1,2,3,4,5")
    assert (changed.opens_at, changed.production_percent, changed.oven_alone) == (dt.time(7, 15), 55, True)
    assert (changed.carrier_by, changed.carrier_days) == (dt.time(14, 30), "1,4")
    assert (changed.sure_one_off, changed.sure_dealer, changed.slips_below) == (85, 92, 70)
    shown = text_of(client.get("/settings"))
    assert all(words in shown for words in ("Ada <ada@example.org>", "1.6 mm", "0.5 kg", "1/16 in"))
    body = client.get("/settings").content.decode()
    assert re.search(r'<input type="text" name="closes_at" value="16:30"', body)
    assert re.findall(r'name="open_days" value="(\d)"[^>]*checked', body) == list("012345")
    assert re.findall(r'name="carrier_days" value="(\d)"[^>]*checked', body) == ["1", "4"]
    assert "What your local codes and your insurer ask for goes before this." in shown
    client.post("/settings", {**SETTINGS, "recipients": "bert@example.org"})
    assert [one.email for one in shop_row.active_recipients()] == ["bert@example.org"]


@pytest.mark.parametrize(
    "typed",
    [
        {"name": ""},
        {"name": "  "},
        {"address": "\n".join("abcdefg")},
        {"address": "x" * 301},
        {"address": "a\x00b"},
        {"phone": "5" * 41},
        {"email": "office"},
        {"email": "a@example.org, b@example.org"},
        {"email": "a@example.org\r\nBcc: everybody@example.org"},
        {"zone": "Mars/Olympus"},
        {"currency": "E1R"},
        {"currency": "EURO"},
        {"night_hour": "24"},
        {"night_hour": "-1"},
        {"night_hour": "9" * 5000},
        {"night_hour": "½"},
        {"quiet_days": ["7"]},
        {"closes_at": ""},
        {"closes_at": "00:00"},
        {"closes_at": "24:00"},
        {"closes_at": "17:00:30"},
        {"closes_at": "17"},
        {"closes_at": "5 pm"},
        {"closes_at": "-1:00"},
        {"closes_at": "½"},
        {"closes_at": "17:00\x00"},
        {"closes_at": "9" * 5000},
        {"open_days": []},
        {"open_days": ["7"]},
        {"open_days": ["-1"]},
        {"open_days": ["Monday"]},
        {"open_days": ["0", "\x00"]},
        {"opens_at": ""},
        {"opens_at": "16:30"},
        {"opens_at": "9" * 5000},
        {"production_percent": "4"},
        {"production_percent": "101"},
        {"production_percent": "½"},
        {"carrier_by": "soon"},
        {"carrier_days": []},
        {"carrier_days": ["7"]},
        {"sure_one_off": "49"},
        {"sure_dealer": "100"},
        {"sure_dealer": "NaN"},
        {"slips_below": "0"},
        {"slips_below": "86"},
        {"hold_minutes": "0"},
        {"hold_minutes": "1441"},
        {"hold_minutes": "1.5"},
        {"kerf": "2 in"},
        {"kerf": "wide"},
        {"scale_step": "200 kg"},
        {"tape_error": ""},
        {"recipients": "nobody"},
        {"recipients": "a@b"},
        {"recipients": "x" * 5000},
        {"recipients": "a@example.org, b@example.org"},
        {"recipients": "a@example.org\r\nBcc: everybody"},
    ],
)
def test_settings_that_cannot_be_are_refused_and_what_was_typed_stays(shop: Shop, typed: dict[str, object]) -> None:
    before = Shop.objects.values().get()
    answer = client_of("owner").post("/settings", {**SETTINGS, **typed})
    assert answer.status_code == 422
    assert re.search(r'class="say"[^>]*>[^<]+', answer.content.decode())
    assert "ada@example.org" in text_of(answer).lower() or "recipients" in typed
    assert Shop.objects.values().get() == before


# ---- plain http, the proxy


@override_settings(BEHIND_TLS=True, TRUSTED_PROXIES=["127.0.0.1"])
@pytest.mark.django_db
def test_behind_tls_plain_http_is_refused_and_not_redirected() -> None:
    make_shop()
    proxied = {"HTTP_X_FORWARDED_PROTO": "https"}
    with override_settings(SECURE_PROXY_SSL_HEADER=("HTTP_X_FORWARDED_PROTO", "https")):
        assert Client().get("/api/v1/me").status_code == 403
        assert Client().get("/api/v1/me")["Content-Type"] == "application/problem+json"
        assert Client().get("/login").status_code == 403
        assert Client().get("/livez").status_code == 200
        assert Client().get("/login", **proxied).status_code == 200
        spoofed = Client().get("/login", REMOTE_ADDR="192.0.2.9", **proxied)
        assert spoofed.status_code == 403


@pytest.mark.django_db
def test_the_clients_address_is_believed_from_the_proxy_only() -> None:
    forwarded = {"HTTP_X_FORWARDED_FOR": "203.0.113.5, 198.51.100.7"}
    spoofed = Client().get("/login", **forwarded).wsgi_request
    assert spoofed.META["REMOTE_ADDR"] == "127.0.0.1"
    with override_settings(TRUSTED_PROXIES=["127.0.0.1"]):
        assert Client().get("/login", **forwarded).wsgi_request.META["REMOTE_ADDR"] == "198.51.100.7"


# ---- the audit line


def test_every_change_of_the_owners_desk_leaves_a_line(shop: Shop) -> None:
    client = client_of("owner")
    start = AuditLine.objects.count()
    client.post("/people", NEW_PERSON)
    mara = Person.objects.get(login="mara")
    client.post(f"/people/{mara.pk}", {"name": "Mara", "role": "hand", "is_active": "on"})
    client.post(f"/people/{mara.pk}/password", {"password": "anvil horn and heel"})
    client.post("/keys", {"name": "web shop", "scopes": ["stock:read"]})
    client.post(f"/keys/{ApiKey.objects.get().pk}/revoke")
    client.post("/links", {"name": "sheet", "expires_at": (clock.now() + dt.timedelta(days=9)).date().isoformat()})
    client.post(f"/links/{FeedLink.objects.get().pk}/revoke")
    client.post("/settings", SETTINGS)
    client.post("/tablets", {"name": "by the hammer"})
    lines = list(AuditLine.objects.order_by("id")[start:])
    assert [line.action for line in lines] == [
        "person made",
        "person changed",
        "password set",
        "key made",
        "key revoked",
        "link made",
        "link revoked",
        "recipients changed",
        "shop settings changed",
        "tablet enrolled",
    ]
    assert len({line.by for line in lines}) == 1
    changed = lines[1]
    assert (changed.before["role"], changed.after["role"]) == ("desk", "hand")
    kept = str([(line.before, line.after) for line in lines])
    assert "anvil" not in kept
    assert PASSWORD not in kept


def _lines(count: int) -> None:
    for number in range(count):
        with entry_point():
            audit.write(
                at=NOON + number * MINUTE,
                by="mara",
                action="tried",
                subject=f"thing {number}",
                after={"at": NOON, "mass": 1.5, "name": "Größe ½"},
            )


def test_the_audit_lines_are_sealed_into_a_chain(db: None) -> None:
    _lines(7)
    assert audit.seal(limit=4) == 4
    assert audit.verify() == []
    assert audit.seal() == 3
    assert audit.seal() == 0
    assert audit.verify() == []
    assert len(set(AuditLine.objects.values_list("seal", flat=True))) == 7


@pytest.mark.parametrize("column", ["by", "action", "subject", "reason", "at", "after"])
def test_an_altered_audit_line_is_named(db: None, column: str) -> None:
    from shop.shared import append_only

    _lines(5)
    audit.seal()
    victim = AuditLine.objects.order_by("id")[2]
    value = {"at": NOON - MINUTE, "after": {"mass": 2.5}}.get(column, "x")
    append_only.drop()
    AuditLine.objects.filter(pk=victim.pk).update(**{column: value})
    assert audit.verify() == [f"Audit line {victim.pk} was altered, or a line before it was removed."]


def test_a_removed_audit_line_is_noticed(db: None) -> None:
    from shop.shared import append_only

    _lines(5)
    audit.seal()
    victim, after = AuditLine.objects.order_by("id")[2:4]
    append_only.drop()
    victim.delete()
    assert audit.verify() == [f"Audit line {after.pk} was altered, or a line before it was removed."]


def test_an_audit_line_slipped_in_or_unsealed_is_noticed(db: None) -> None:
    _lines(3)
    audit.seal()
    middle = AuditLine.objects.order_by("id")[1]
    AuditLine.objects.filter(pk=middle.pk).update(seal="")
    said = audit.verify()
    assert said[0].startswith(f"Audit line {middle.pk} has no seal")


def test_a_line_without_a_transaction_is_a_mistake_of_the_program() -> None:
    with pytest.raises(RuntimeError):
        audit.write(at=NOON, by="x", action="x", subject="x")


# ---- numbers without gaps


def test_numbers_follow_each_other_and_a_refused_action_gives_its_number_back(db: None) -> None:
    with entry_point():
        assert [series.take("order"), series.take("order"), series.take("delivery")] == [1, 2, 1]

    def refused_after_taking() -> None:
        with entry_point():
            assert series.take("order") == 3
            raise Refusal("no")

    with pytest.raises(Refusal):
        refused_after_taking()
    with entry_point():
        assert series.take("order") == 3


@pytest.mark.django_db(transaction=True)
def test_takers_at_the_same_moment_get_different_numbers() -> None:
    if connection.vendor == "sqlite":
        taken = []
        for _ in range(40):
            with entry_point():
                taken.append(series.take("order"))
        assert taken == list(range(1, 41))
        return
    taken, lock, gate = [], threading.Lock(), threading.Barrier(8)

    def take() -> None:
        gate.wait()
        try:
            for _ in range(5):
                with entry_point():
                    number = series.take("order")
                with lock:
                    taken.append(number)
        finally:
            connections.close_all()

    crowd = [threading.Thread(target=take) for _ in range(8)]
    for one in crowd:
        one.start()
    for one in crowd:
        one.join()
    assert sorted(taken) == list(range(1, 41))
