"""The description of the API: true to the code, valid, complete, and shown by a page from this server alone."""

import json
from typing import Any

import pytest
from django.test import Client
from django.urls import get_resolver
from openapi_schema_validator import OAS31Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from shop.access import roles
from shop.api import describe, filed, urls
from shop.api.view import Endpoint

pytestmark = pytest.mark.daily("sqlite")

KEPT: dict[str, Any] = json.loads(describe.FILE.read_text(encoding="utf-8"))
OPERATIONS = [
    pytest.param(address, method, operation, id=operation["operationId"])
    for address, methods in KEPT["paths"].items()
    for method, operation in methods.items()
]


def test_the_description_beside_the_code_is_the_one_the_code_makes() -> None:
    assert describe.text() == describe.FILE.read_text(encoding="utf-8"), "run: manage.py openapi"


def test_the_description_is_valid_openapi() -> None:
    assert KEPT["openapi"].startswith("3.1")
    assert list(OpenAPIV31SpecValidator(KEPT).iter_errors()) == []


def test_every_operation_of_every_address_is_described_once() -> None:
    names = [operation.values[2]["operationId"] for operation in OPERATIONS]
    assert len(names) == len(set(names))
    declared = [
        operation.name for pattern in urls.described for operation in pattern.callback.view_class.operations.values()
    ]
    assert sorted(names) == sorted(declared)


@pytest.mark.parametrize(("address", "method", "operation"), OPERATIONS)
def test_an_operation_says_what_it_takes_and_gives_with_an_example_of_each(
    address: str, method: str, operation: dict[str, Any]
) -> None:
    assert all(operation[name] for name in ("summary", "tags", "description"))
    assert operation["security"] == [{"key": []}]
    if "requestBody" in operation:
        _says_what_it_is(operation["requestBody"]["content"])
    for status, reply in operation["responses"].items():
        if status.startswith("2") and status != "204":
            _says_what_it_is(reply["content"])
        if status.startswith(("4", "5")):
            assert reply == {"$ref": f"#/components/responses/Problem{status}"}
    assert {"400", "401", "403"} <= set(operation["responses"])
    names = {(parameter["in"], parameter["name"]) for parameter in operation.get("parameters", [])}
    assert ("header", "Idempotency-Key") in names or method != "post"
    assert ("header", "If-Match") in names or method not in {"patch", "put", "delete"}


def _says_what_it_is(content: dict[str, Any]) -> None:
    """JSON has an example; a file is one of the kinds there are."""
    if "application/json" in content:
        assert content["application/json"]["examples"]
    else:
        assert tuple(content) == filed.KINDS
        assert all(media["schema"]["format"] == "binary" for media in content.values())


def test_every_address_under_the_api_has_its_line_in_the_table_of_scopes() -> None:
    assert {f"api:{pattern.name}" for pattern in urls.urlpatterns} <= set(roles.API)
    for pattern in urls.described:
        view = pattern.callback.view_class
        assert issubclass(view, Endpoint)
        assert set(roles.API[f"api:{pattern.name}"]) == set(view.operations), pattern.name
    known = {*roles.SCOPES, roles.ANY_KEY, roles.OPEN}
    assert {scope for line in roles.API.values() for scope in line.values()} <= known


def test_no_address_answers_outside_the_two_kinds_of_views() -> None:
    prefix = next(pattern for pattern in get_resolver().url_patterns if str(pattern.pattern) == "api/v1/")
    assert prefix.url_patterns == urls.urlpatterns


@pytest.mark.django_db
def test_the_file_and_the_page_need_no_key_and_load_nothing_from_elsewhere() -> None:
    client = Client()
    file = client.get("/api/v1/openapi.json")
    assert json.loads(file.content) == KEPT
    assert client.get("/api/v1/openapi.json", headers={"If-None-Match": file["ETag"]}).status_code == 304
    page = client.get("/api/v1/docs")
    assert "//" not in page.content.decode()
    assert "unsafe" not in page["Content-Security-Policy"]
    assert "SwaggerUIBundle" in client.get("/api/v1/docs.js").content.decode()


def test_every_example_fits_what_it_is_an_example_of() -> None:
    for pattern in urls.described:
        for operation in pattern.callback.view_class.operations.values():
            for reply in operation.replies.values():
                if reply.shape is not None:
                    OAS31Validator(reply.shape).validate(reply.example)
            if operation.body is not None:
                body = operation.body(data=operation.example)
                assert body.is_valid(), (operation.name, body.errors)
