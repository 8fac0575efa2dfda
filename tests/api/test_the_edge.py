"""The one way every address works: who may, what is read, how it is refused, and that nothing of the inside shows."""

import html
import json
import logging
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.db import DataError, IntegrityError, OperationalError, transaction
from django.http import Http404
from django.test import Client, override_settings

from inventory.models import Item
from shop.access import roles
from shop.access.services import keys
from shop.api import problems
from shop.shared.errors import Invalid, NotFound, Refusal, Stale
from shop.shared.models import RequestKey, Series
from tests.api import probe
from tests.api.asking import Program, check_problem, data, problem
from tests.makers import AT

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.probe"), pytest.mark.daily("postgresql")]


@pytest.fixture
def program(monkeypatch: pytest.MonkeyPatch) -> Program:
    methods = ("GET", "POST", "PATCH", "DELETE")
    monkeypatch.setitem(roles.API, "api:me", dict.fromkeys(methods, roles.ANY_KEY))
    return Program("stock:read")


def tell(monkeypatch: pytest.MonkeyPatch, result: Any) -> None:
    def act(call: object) -> Any:
        if isinstance(result, Exception):
            raise result
        return result() if callable(result) else result

    monkeypatch.setattr(probe, "do", act)


# Who may


@pytest.mark.parametrize(
    "header",
    ["", "Bearer", "Bearer ", "Basic YWxhZGRpbjpvcGVu", "bkn_nothing", "Bearer bkn_" + "a" * 43, "Bearer " + "é" * 20,
     "Bearer bkn_a b", "Bearer " + "x" * 5000, "Bearer bkn_\x00"],
)  # fmt: skip
def test_it_asks_for_a_key_where_none_or_a_wrong_one_is_sent(program: Program, header: str) -> None:
    response = Client().get("/api/v1/probe", headers={"Authorization": header} if header else {})
    problem(response, 401)
    assert response["WWW-Authenticate"].startswith("Bearer")


def test_it_never_takes_a_cookie_for_a_key(program: Program) -> None:
    client = Client()
    client.cookies["bickern_session"] = program.text
    client.cookies["Authorization"] = f"Bearer {program.text}"
    problem(client.get("/api/v1/probe"), 401)
    problem(client.get(f"/api/v1/probe?access_token={program.text}"), 401)


def test_it_takes_the_word_bearer_in_any_case(program: Program) -> None:
    assert Client().get("/api/v1/probe", headers={"Authorization": f"bEARER {program.text}"}).status_code == 200


def test_a_revoked_key_opens_nothing_from_the_next_request_on(program: Program) -> None:
    data(program.get("probe"))
    with transaction.atomic():
        keys.revoke(program.key.pk, at=AT, by=None)
    problem(program.get("probe"), 401)


def test_an_address_without_a_line_in_the_table_is_open_to_no_key(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(roles.API, "api:me", {})
    assert "No key" in problem(program.get("probe"), 403)["detail"]


def test_it_names_the_scope_that_is_missing(program: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(roles.API, "api:me", {"GET": "orders:write"})
    assert problem(program.get("probe"), 403)["needed_scope"] == "orders:write"


def test_it_looks_at_the_key_before_any_precondition(program: Program) -> None:
    problem(Client().patch("/api/v1/probe", headers={"If-Match": '"old"'}), 401)


# Methods, forms, unknown addresses


@pytest.mark.parametrize("method", ["PUT", "TRACE", "CONNECT", "PROPFIND", "X" * 300, "BREW"])
def test_it_names_the_methods_it_answers(program: Program, method: str) -> None:
    response = program.ask(method, "probe")
    problem(response, 405)
    assert response["Allow"] == "DELETE, GET, HEAD, OPTIONS, PATCH, POST"


def test_options_says_what_is_there_and_head_what_get_would(program: Program) -> None:
    options = program.ask("OPTIONS", "probe")
    assert (options.status_code, options.content) == (204, b"")
    assert "PATCH" in options["Allow"]
    head, get = program.ask("HEAD", "probe"), program.get("probe")
    assert head.content == b""
    assert (head.status_code, head["ETag"], head["Content-Type"]) == (200, get["ETag"], get["Content-Type"])


@pytest.mark.parametrize(
    "address",
    ["/api", "/api/", "/api/v1", "/api/v1/", "/api/v2/items", "/api/v1/nope", "/api/v1/probe/", "/api/v1/%00",
     "/api/v1/%ff", "/api/v1/..%2f..%2fetc", "/api/v1/problems/Nope",  "/api/v1/" + "a" * 5000],
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE"])
def test_an_unknown_address_is_a_problem_too(program: Program, address: str, method: str) -> None:
    problem(program.ask(method, address), 404)


@override_settings(ALLOWED_HOSTS=["testserver"])
def test_a_wrong_host_is_a_problem_too(program: Program) -> None:
    problem(Client().get("/api/v1/probe", headers={"Host": "elsewhere.example"}), 400)


@pytest.mark.parametrize(
    ("accept", "csv"),
    [("*/*", False), ("application/json", False), ("text/csv", True), ("text/*", True), ("application/*", False),
     ("text/csv;q=0.5, application/json", False), ("text/csv, application/json;q=0.1", True), ("", False)],
)  # fmt: skip
def test_it_gives_the_form_that_is_asked_for(
    program: Program, monkeypatch: pytest.MonkeyPatch, accept: str, *, csv: bool
) -> None:
    monkeypatch.setattr(probe, "do", lambda call: {"csv": call.csv})
    assert data(program.get("probe", Accept=accept)) == {"csv": csv}


@pytest.mark.parametrize("accept", ["text/html", "application/xml", "application/json;q=0", "nonsense", "a" * 3000])
def test_it_says_which_forms_there_are(program: Program, accept: str) -> None:
    problem(program.get("probe", Accept=accept), 406)


# Bodies


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x",
                                  "application/json; charset=latin-1", "application/jsonx", "", "application/json;a"])  # fmt: skip
def test_it_reads_json_only(program: Program, kind: str) -> None:
    problem(program.ask("POST", "probe", raw=b'{"name": "a"}', Content_Type=kind), 415)


def test_it_takes_no_compressed_body(program: Program) -> None:
    problem(program.ask("POST", "probe", {"name": "a"}, Content_Encoding="gzip"), 415)


def test_it_refuses_a_body_above_one_mebibyte_by_its_size(program: Program) -> None:
    body = b'{"name": "' + b"a" * 1024 * 1024 + b'"}'
    assert problem(program.ask("POST", "probe", raw=body), 413)["most_bytes"] == 1024 * 1024


def test_it_tells_everything_that_is_wrong_with_a_body_at_once(program: Program) -> None:
    body = {
        "nmae": "a",
        "count": 0,
        "gift": "yes",
        "state": "OPEN",
        "day": "2026-02-30",
        "at": "2026-03-01T08:00:00",
        "lines": [{"quantity": "0"}, {"quantity": 3}, {"quantity": "1", "x/y~z": 1}],
    }
    lines = problem(program.post("probe", body), 422)["errors"]
    assert {line["pointer"]: line["code"] for line in lines} == {
        "/nmae": "unknown",
        "/name": "missing",
        "/count": "min_value",
        "/gift": "type",
        "/state": "choice",
        "/day": "day",
        "/at": "moment",
        "/lines/0/quantity": "quantity",
        "/lines/1/quantity": "quantity",
        "/lines/2/x~1y~0z": "unknown",
    }
    assert not RequestKey.objects.exists()


@pytest.mark.parametrize(
    "body", [None, [], "text", 1, True, [{"name": "a"}], {}, {"name": None}, {"name": ""}, {"name": "  "},
             {"name": ["a"]}, {"name": {"a": 1}}, {"name": 5}, {"name": True}, {"name": "a" * 21}, {"name": "a\x07"},
             {"name": "a", "count": "1"}, {"name": "a", "count": 1.5}, {"name": "a", "count": 10**30},
             {"name": "a", "count": True}, {"name": "a", "lines": {}}, {"name": "a", "lines": [1]},
             {"name": "a", "lines": [[]]}, {"name": "a", "lines": [{"quantity": "1"}] * 4},
             *[{"name": "a", "lines": [{"quantity": q}]} for q in ["", "-1", "+1", "1e3", " 1", "1.", ".5", "1,5", "½",
               "NaN", "9" * 13, "1.0000001", "٣", None, 1, 1.5, [], "0", "0.000"]]],
)  # fmt: skip
def test_it_refuses_a_body_of_another_shape(program: Program, body: Any) -> None:
    raw = json.dumps(body).encode()
    problem(program.ask("POST", "probe", raw=raw), 422)
    assert not Series.objects.exists()


def test_a_body_where_none_is_taken_is_refused(program: Program) -> None:
    problem(program.ask("DELETE", "probe", {"a": 1}, If_Match="*"), 400)


# Keys of requests


def test_it_repeats_an_answer_byte_for_byte(program: Program) -> None:
    first = program.post("probe", {"name": "a"}, key='"a-key-of-one-request"')
    again = program.ask("POST", "probe", raw=b'{ "name" : "a" }', key="a-key-of-one-request")
    assert (first.status_code, first.content, first["Location"]) == (201, again.content, again["Location"])
    assert again["Idempotency-Replayed"] == "true"
    assert "Idempotency-Replayed" not in first
    assert Series.objects.get().next_number == 2


def test_it_repeats_a_refusal_too(program: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    tell(monkeypatch, Refusal("Only 3 can be promised; ask for 3.", facts={"available": 3}))
    first = program.post("probe", {"name": "a"}, key="k" * 16)
    tell(monkeypatch, {"ok": True})
    again = program.post("probe", {"name": "a"}, key="k" * 16)
    assert problem(first, 409)["available"] == 3
    assert (again.status_code, again.content) == (409, first.content)
    assert not Series.objects.exists()


def test_a_failure_leaves_the_key_free(program: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    tell(monkeypatch, ZeroDivisionError("inside"))
    problem(program.post("probe", {"name": "a"}, key="k" * 16), 500)
    tell(monkeypatch, {"ok": True})
    assert data(program.post("probe", {"name": "a"}, key="k" * 16), 201)["number"] == 1


def test_one_client_cannot_read_the_answer_of_another(program: Program) -> None:
    program.post("probe", {"name": "a"}, key="k" * 16)
    other = Program("stock:read")
    assert "Idempotency-Replayed" not in other.post("probe", {"name": "a"}, key="k" * 16)


@pytest.mark.parametrize("key", [None, "", "short", "a" * 15, "a" * 129, "with a space in it", '"half-a-quote-here',
                                 "umlaut-ä-in-the-key", '""', "tab\tin-the-middle-of", "'quoted-otherwise' x"])  # fmt: skip
def test_a_request_that_moves_stock_needs_a_key_that_can_be_used(program: Program, key: str | None) -> None:
    headers = {} if key is None else {"Idempotency_Key": key}
    response = program.ask("POST", "probe", {"name": "a"}, key=None, **headers)
    assert "Idempotency-Key" in problem(response, 400)["detail"]


def test_the_same_key_with_another_body_is_refused(program: Program) -> None:
    program.post("probe", {"name": "a"}, key="k" * 16)
    assert problem(program.post("probe", {"name": "b"}, key="k" * 16), 422)["type"].endswith("request_key_reused")


# Versions


def test_it_answers_304_without_a_body_where_nothing_changed(program: Program) -> None:
    for tag in ['"v1"', 'W/"v1"', '"x", "v1"', "*"]:
        response = program.get("probe", If_None_Match=tag)
        assert (response.status_code, response.content, response["ETag"]) == (304, b"", '"v1"')
    assert program.get("probe", If_None_Match='"v2"').status_code == 200
    assert program.get("probe", If_None_Match="nonsense").status_code == 200


@pytest.mark.parametrize(
    ("tag", "status"),
    [(None, 428), ("", 428), ('"7"', 200), ('"6", "7"', 200), ("*", 200), ('"6"', 412), ('W/"7"', 412), ("7", 400),
     ('"7', 400), ('"7" "6"', 400), ("*, *", 400), ('"' + "a" * 3000 + '"', 400), ('""', 412)],
)  # fmt: skip
def test_a_change_names_the_version_that_was_read(program: Program, tag: str | None, status: int) -> None:
    headers = {} if tag is None else {"If_Match": tag}
    response = program.ask("PATCH", "probe", {"name": "a"}, **headers)
    assert response.status_code == status, response.content
    assert response["ETag"] == '"8"' if status == 200 else "ETag" not in response


# What is raised inside


@pytest.mark.parametrize(
    ("raised", "status", "code"),
    [
        (Refusal("Only 3 are there; take 3."), 409, "refused"),
        (Invalid.field("lines.0.qty", "There are 3; take 3."), 422, "invalid"),
        (NotFound("There is no item X; read the list."), 404, "not_found"),
        (Stale("It has changed; read it again."), 412, "stale"),
        (Http404("inside"), 404, "not_found"),
        (PermissionDenied("inside"), 403, "not_allowed"),
        (SuspiciousOperation("inside"), 400, "malformed"),
        (RequestDataTooBig("inside"), 413, "too_large"),
        (IntegrityError("UNIQUE constraint failed: inside"), 409, "conflict"),
        (DataError("value out of range: inside"), 400, "bad_request"),
        (OperationalError("database is locked: inside"), 503, "busy"),
        (ValueError("inside"), 500, "failure"),
        (RuntimeError("SELECT inside"), 500, "failure"),
        (RecursionError("inside"), 500, "failure"),
        (MemoryError("inside"), 500, "failure"),
    ],
    ids=lambda value: type(value).__name__ if isinstance(value, Exception) else str(value),
)
def test_whatever_is_raised_becomes_a_problem_that_shows_nothing_of_the_inside(
    program: Program, monkeypatch: pytest.MonkeyPatch, raised: Exception, status: int, code: str
) -> None:
    logging.getLogger("bickern.api").setLevel(logging.CRITICAL)
    tell(monkeypatch, raised)
    for response in (program.get("probe"), program.ask("PATCH", "probe", {"name": "a"}, If_Match='"7"')):
        body = problem(response, status)
        assert body["type"] == f"/api/v1/problems/{code}"
        assert "inside" not in response.content.decode()
        assert ("Retry-After" in response) == (status == 503)
    assert program.post("probe", {"name": "a"}).status_code == status
    assert not Series.objects.exists()


def test_a_value_that_only_the_database_cannot_take_is_the_callers(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    tell(monkeypatch, lambda: list(Item.objects.filter(pk="abc")))  # ValueError from inside the query layer
    problem(program.get("probe"), 400)


def test_a_refusals_fields_and_figures_are_members_of_the_problem(
    program: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    facts = {"available": 3, "item": "A-1", "status": 200, "x": 1, "title": "no", "inside": object()}
    tell(monkeypatch, Refusal("There are 3; take 3.", {"lines.0.qty": "Only 3.", "ship_to": "Needed."}, facts))
    body = problem(program.get("probe"), 409)
    assert [(line["pointer"], line["message"]) for line in body["errors"]] == [
        ("/lines/0/quantity", "Only 3."),
        ("/ship_to", "Needed."),
    ]
    assert (body["available"], body["item"], body["status"], body["title"]) == (3, "A-1", 409, body["title"])
    assert "x" not in body
    assert body["inside"] is None


def test_a_request_id_that_can_be_used_comes_back(program: Program) -> None:
    assert program.get("probe", X_Request_ID="abc-123.def_456")["X-Request-ID"] == "abc-123.def_456"
    for odd in ["short", "a" * 65, "with space in it", "ümlaut-in-it", "-starts-with-dash"]:
        assert program.get("probe", X_Request_ID=odd)["X-Request-ID"] != odd


# Problem types


def test_every_problem_type_has_a_page_one_title_and_a_sentence() -> None:
    for code, kind in problems.kinds().items():
        page = Client().get(f"/api/v1/problems/{code}")
        assert page.status_code == 200, code
        assert html.escape(problems.title(kind)) in page.content.decode()
        assert len(problems.title(kind)) > 8, code


def test_the_door_before_the_api_names_problems_as_the_api_does(program: Program) -> None:
    from shop.access import middleware

    known = problems.kinds()
    assert {code: problems.title(known[code]) for code in middleware._TITLES} == middleware._TITLES
    problem(program.ask("POST", "docs"), 405)
    with override_settings(BEHIND_TLS=True):
        refused = program.http.get("/api/v1/probe")
    assert check_problem(refused)["type"] == "/api/v1/problems/https_only"


# Pages of a list


def test_a_list_is_paged_without_losing_or_repeating_a_row_while_others_write(program: Program) -> None:
    old = {f"row-{number:03d}" for number in range(100)}
    Series.objects.bulk_create([Series(name=name, next_number=index // 40) for index, name in enumerate(sorted(old))])
    seen: list[str] = []
    address: str | None = "/api/v1/pages?limit=7"
    while address:
        Series.objects.create(name=f"new-{len(seen):04d}", next_number=1)
        response = program.get(address)
        page = data(response)
        seen += page["rows"]
        address = page["next"]
        assert (f'<{address}>; rel="next"' == response.get("Link")) if address else "Link" not in response
    assert len(seen) == len(set(seen))
    assert old <= set(seen)


@pytest.mark.parametrize("cursor", ["abc", "cD1hYmM=", "cD0A", "WzEsMl0", "null", "..", "e30:abc", "%00", "a" * 600,
                                    "WzEsMiwiYSJd:xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx", "-1", "0"])  # fmt: skip
def test_a_mark_that_is_not_ours_is_refused(program: Program, cursor: str) -> None:
    body = problem(program.get(f"pages?cursor={cursor}"), 400)
    assert body["errors"][0]["parameter"] == "cursor"


def test_a_mark_of_another_list_is_refused(program: Program) -> None:
    from django.core import signing

    mark = signing.Signer(salt="bickern.cursor").sign_object([1, "row", "another list"])
    problem(program.get(f"pages?cursor={mark}"), 400)


def test_parameters_that_are_too_many_are_a_problem(program: Program) -> None:
    response = program.get("probe?" + "&".join(f"a{number}=1" for number in range(3000)))
    check_problem(response)
    assert response.status_code == 400
