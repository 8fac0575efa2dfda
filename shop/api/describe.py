"""The description of the API (OpenAPI 3.1), made from the operations that the views declare and nothing else."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.urls import include, path
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent, force_instance
from rest_framework import serializers

from shop.access import roles
from shop.api import problems, refusals
from shop.api.described import FILE_CONTENT, HEADERS, PATH_EXAMPLES, PATH_PARTS, PROBLEM, PROBLEMS, SENTENCES
from shop.api.view import Endpoint, Operation, Reply
from shop.shared import csvs

FILE = Path(__file__).with_name("openapi.json")
JSON = "application/json"


class Schema(AutoSchema):
    """Describes an endpoint from its operations."""

    def get_operation(
        self, path: str, path_regex: str, path_prefix: str, method: str, registry: Any
    ) -> dict[str, Any] | None:
        """Return the description of one method of one address."""
        if not isinstance(self.view, Endpoint) or method not in self.view.operations:
            return None
        self.registry, self.path, self.method = registry, path, method
        operation = self.view.operations[method]
        problem = ResolvedComponent("Problem", ResolvedComponent.SCHEMA, PROBLEM, "P")  # type: ignore[no-untyped-call]
        registry.register_on_missing(problem)
        is_open = roles.scope_of(_url_name(path), method) == roles.OPEN
        made: dict[str, Any] = {
            "operationId": operation.name,
            "summary": operation.summary,
            "tags": [operation.tag],
            "security": [] if is_open else [{"key": []}],
            "responses": self._replies(operation, is_open=is_open),
        }
        words = _words(operation, roles.scope_of(_url_name(path), method))
        made["description"] = words
        parameters = [*_path_parameters(path), *_query_parameters(operation), *_header_parameters(operation, method)]
        if parameters:
            made["parameters"] = parameters
        if operation.file is not None:
            made["requestBody"] = {"required": True, "content": FILE_CONTENT}
        elif operation.body is not None:
            made["requestBody"] = self._request(operation)
        return made

    def _request(self, operation: Operation) -> dict[str, Any]:
        component = self.resolve_serializer(force_instance(operation.body), "request")  # type: ignore[no-untyped-call]
        media: dict[str, Any] = {"schema": component.ref}
        if operation.example is not None:
            media["examples"] = {"example": {"value": operation.example}}
        return {"required": True, "content": {JSON: media}}

    def _replies(self, operation: Operation, *, is_open: bool) -> dict[str, Any]:
        found = {str(status): _reply(reply, operation) for status, reply in operation.replies.items()}
        if self.method == "GET":
            found["304"] = {"description": "Not changed since the tag in If-None-Match.", "headers": _headers(["ETag"])}
        for status in _refused_with(operation, is_open=is_open, path=self.path):
            found[str(status)] = {"$ref": f"#/components/responses/Problem{status}"}
        return dict(sorted(found.items()))

    def _map_serializer(self, serializer: Any, direction: Any, *args: Any) -> Any:
        schema = super()._map_serializer(serializer, direction, *args)  # type: ignore[no-untyped-call]
        if direction == "request" and schema.get("type") == "object":
            schema["additionalProperties"] = False
            for name, field in serializer.fields.items():
                schema["properties"][name] = {**schema["properties"][name], **_bounds(field)}
        return schema


def _bounds(field: Any) -> dict[str, Any]:
    """Return what the framework's own description leaves out of a field."""
    if isinstance(field, serializers.ListSerializer):
        bounds: Any = field  # the library's types do not know the two
        return {"minItems": bounds.min_length, "maxItems": bounds.max_length}
    if isinstance(field, serializers.CharField) and not field.allow_blank:
        return {"minLength": 1, "pattern": r"\S"}
    return {}


def document() -> dict[str, Any]:
    """Return the whole description."""
    from shop.api import urls  # noqa: PLC0415 - the addresses import the views, and the views need this module's class by name

    patterns = [path("api/v1/", include((urls.described, "api")))]
    generator = SchemaGenerator(patterns=patterns)  # type: ignore[no-untyped-call]
    made: dict[str, Any] = generator.get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    made["components"]["responses"] = {f"Problem{status}": _problem(status) for status in PROBLEMS}
    made["components"]["headers"] = HEADERS
    made["info"] |= {"license": {"name": "MIT", "identifier": "MIT"}}
    made["servers"] = [{"url": "/", "description": "This shop."}]
    return json.loads(json.dumps(made))


def text() -> str:
    """Return the description as it is kept in the repository."""
    return json.dumps(document(), indent=1, ensure_ascii=False) + "\n"


def _words(operation: Operation, scope: str | None) -> str:
    parts = [operation.words or operation.summary + "."]
    if scope and scope != roles.OPEN:
        parts.append(f"Needs the scope `{scope}`.")
    if operation.once:
        parts.append(
            "Moves stock or files something, therefore needs an Idempotency-Key: the same key with the same body repeats"
            " the first answer for 30 days, also where that was a refusal, and does nothing else."
        )
    return " ".join(parts)


def _refused_with(operation: Operation, *, is_open: bool, path: str) -> list[int]:
    found = {400, 406, 503, *operation.refusals}
    found |= set() if is_open else {401, 403}
    found |= {404} if "{" in path else set()
    found |= {413, 415, 422} if operation.body or operation.file else set()
    found |= {409, 422} if operation.once else set()
    found |= {412, 428} if operation.match else set()
    return sorted(found)


def _problem(status: int) -> dict[str, Any]:
    kind = PROBLEMS[status]
    example: dict[str, Any] = {
        "type": refusals.PROBLEM_ADDRESS + kind.code,
        "title": problems.title(kind),
        "status": status,
        "detail": SENTENCES[status],
        "request_id": "5f0c1d7a9b2e4c3f8a6d0e1b2c3d4e5f",
    }
    if status == 422:
        example["errors"] = [
            {"pointer": "/quantity", "code": "quantity", "message": "This must be a quantity above nought as text."}
        ]
    return {
        "description": problems.title(kind) + ".",
        "headers": _headers(["X-Request-ID", *(["Retry-After"] if status in {409, 503} else [])]),
        "content": {
            problems.MEDIA_TYPE: {
                "schema": {"$ref": "#/components/schemas/Problem"},
                "examples": {"example": {"value": example}},
            }
        },
    }


def _reply(reply: Reply, operation: Operation) -> dict[str, Any]:
    names = ["X-Request-ID", *(["ETag"] if reply.shape is not None or reply.file else []), *reply.headers]
    names += ["Content-Disposition"] if reply.file else []
    made: dict[str, Any] = {
        "description": reply.words,
        "headers": _headers([*names, *(["Idempotency-Replayed"] if operation.once else [])]),
    }
    if reply.file:
        made["content"] = FILE_CONTENT
    if reply.shape is not None:
        media: dict[str, Any] = {"schema": reply.shape}
        if reply.example is not None:
            media["examples"] = {"example": {"value": reply.example}}
        made["content"] = {JSON: media}
        if operation.csv:
            made["content"]["text/csv"] = {
                "schema": {"type": "string", "description": f"{csvs.MEDIA_TYPE}: RFC 4180 with a header line."}
            }
    return made


def _headers(names: list[str]) -> dict[str, Any]:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}


def _path_parameters(address: str) -> Iterator[dict[str, Any]]:
    for name in re.findall(r"{(\w+)}", address):
        schema = dict(PATH_PARTS[name])
        words = schema.pop("description")
        yield {
            "in": "path",
            "name": name,
            "required": True,
            "description": words,
            "schema": schema,
            "example": PATH_EXAMPLES[name],
        }


def _query_parameters(operation: Operation) -> Iterator[dict[str, Any]]:
    for parameter in operation.query:
        made: dict[str, Any] = {
            "in": "query",
            "name": parameter.name,
            "description": parameter.words,
            "schema": parameter.schema(),
        }
        if parameter.required:
            made["required"] = True
        if parameter.example:
            made["example"] = parameter.example
        yield made


def _header_parameters(operation: Operation, method: str) -> Iterator[dict[str, Any]]:
    if operation.once:
        yield {
            "in": "header",
            "name": "Idempotency-Key",
            "required": True,
            "description": "A new value for every new request, in quotes or bare; the same one when you try again.",
            "schema": {"type": "string", "pattern": r"^[A-Za-z0-9_\-]{16,128}$"},
            "example": "0192f3a4-5b6c-7d8e-9f00-112233445566",
        }
    if operation.match:
        yield {
            "in": "header",
            "name": "If-Match",
            "required": True,
            "description": "The ETag that was read, or “version” from the body in quotes.",
            "schema": {"type": "string", "pattern": r'^("[A-Za-z0-9.\-]{1,64}"|\*)$'},
            "example": '"3"',
        }
    if method == "GET":
        yield {
            "in": "header",
            "name": "If-None-Match",
            "description": "A tag read before; the answer is 304 where nothing has changed.",
            "schema": {"type": "string"},
            "example": '"b1946ac92492d2347c6235b4d2611184"',
        }


def _url_name(address: str) -> str:
    from shop.api import urls  # noqa: PLC0415 - as above

    trimmed = re.sub(r"{(\w+)}", r"<\1>", address.removeprefix("/api/v1/"))
    for pattern in urls.described:
        if re.sub(r"<\w+:(\w+)>", r"<\1>", str(pattern.pattern)) == trimmed:
            return f"api:{pattern.name}"
    return ""
