"""A program that asks the API as one outside would: bytes in, bytes out, and every refusal looked at on the way."""

import functools
import html
import itertools
import json
import re
from typing import Any
from urllib.parse import unquote

from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import resolve
from openapi_schema_validator import OAS31Validator

from shop.access.models import ApiKey
from shop.access.roles import SCOPES
from shop.access.services import keys
from shop.shared import shop_row
from shop.shared.models import Shop
from tests.makers import AT

PROBLEM_MEMBERS = {"type", "title", "status", "detail", "request_id"}
INSIDE = re.compile(
    r"Traceback|Error\b|Exception|SELECT |INSERT |UPDATE |sqlite|psycopg|django|\.py\b|site-packages|shop\.api",
    re.IGNORECASE,
)
_numbers = itertools.count(1)


def make_shop() -> Shop:
    """Return the shop, made where it is not there yet."""
    found = Shop.objects.filter(pk=1).first()
    if found:
        return found
    with transaction.atomic():
        settings = shop_row.Settings(name="Invented Forge", zone="America/Chicago")
        return shop_row.make(settings, at=AT, by="tests", invented=True)


def make_key(*scopes: str, name: str = "A program") -> tuple[ApiKey, str]:
    """Return a key with these scopes (all where none is named) and its text."""
    with transaction.atomic():
        return keys.make(name=name, scopes=scopes or tuple(SCOPES), at=AT, by=None)


class Program:
    """Asks with a key; checks that whatever is refused is a problem that tells nothing of the inside."""

    def __init__(self, *scopes: str) -> None:
        make_shop()
        self.key, self.text = make_key(*scopes)
        self.http = Client(raise_request_exception=False, headers={"Authorization": f"Bearer {self.text}"})

    def ask(
        self,
        method: str,
        address: str,
        body: Any = None,
        *,
        raw: bytes | None = None,
        key: str | None = "",
        **headers: str,
    ) -> HttpResponse:
        """Send one request; `key` is the Idempotency-Key: "" makes a new one for a POST, None sends none."""
        data = raw if raw is not None else b"" if body is None else json.dumps(body).encode()
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        kind = sent.pop("Content-Type", "application/json" if data else "")
        if method == "POST" and key == "":
            key = f"made-by-a-test-{next(_numbers):08d}"
        if key:
            sent["Idempotency-Key"] = key
        path = address if address.startswith("/") else f"/api/v1/{address}"
        response = self.http.generic(method, path, data, content_type=kind, headers=sent)
        if response.status_code >= 400:
            check_problem(response)
        else:
            check_shape(method, path, response)
        return response

    def get(self, address: str, **headers: str) -> HttpResponse:
        """Read."""
        return self.ask("GET", address, **headers)

    def post(self, address: str, body: Any = None, **rest: Any) -> HttpResponse:
        """Send a body."""
        return self.ask("POST", address, body, **rest)


@functools.cache
def page_of(address: str) -> str:
    """Return the page that a problem's type leads to."""
    page = Client().get(address)
    assert page.status_code == 200
    return page.content.decode()


def check_shape(method: str, address: str, response: HttpResponse) -> None:
    """Hold an answer against the shape that the description gives for it."""
    view = getattr(resolve(unquote(address.partition("?")[0])).func, "view_class", None)
    operation = getattr(view, "operations", {}).get(method)
    if (
        operation is None
        or response.status_code == 304
        or not response.get("Content-Type", "").startswith("application/json")
    ):
        return
    reply = operation.replies[response.status_code]
    if reply.shape is not None:
        OAS31Validator(reply.shape).validate(json.loads(response.content))
        assert response["ETag"]
    assert ("Location" in response) == ("Location" in reply.headers)


def check_problem(response: HttpResponse) -> dict[str, Any]:
    """Look at a refusal: one shape, the right status, a sentence, a type that leads to a page, nothing of the inside."""
    assert response["Content-Type"] == "application/problem+json", response.content[:300]
    assert "no-store" in response["Cache-Control"]
    if response.request["REQUEST_METHOD"] == "HEAD":
        return {}
    body: dict[str, Any] = json.loads(response.content)
    assert set(body) >= PROBLEM_MEMBERS
    assert body["status"] == response.status_code
    assert body["request_id"] == response["X-Request-ID"] or "Idempotency-Replayed" in response
    assert body["detail"][-1] in ".…", body["detail"]
    assert "!" not in body["detail"], body["detail"]
    assert not INSIDE.search(response.content.decode()), response.content
    for line in body.get("errors", []):
        assert line["code"]
        assert line["message"]
    assert html.escape(body["title"]) in page_of(body["type"])
    return body


def problem(response: HttpResponse, status: int) -> dict[str, Any]:
    """Return the problem of a refusal that must have this status."""
    assert response.status_code == status, (response.status_code, response.content[:500])
    return check_problem(response)


def data(response: HttpResponse, status: int = 200) -> Any:
    """Return the JSON of an answer that must have this status."""
    assert response.status_code == status, (response.status_code, response.content[:500])
    return json.loads(response.content)
