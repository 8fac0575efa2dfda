"""An address of the API for tests of the edge itself: its operations do what a test tells them to."""

from collections.abc import Callable
from typing import Any, ClassVar

from django.urls import include, path

from shop import urls as whole
from shop.api import etags, fields, paging, reading
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared import series
from shop.shared.models import Series

do: Callable[[Call], Any] = lambda _call: {"ok": True}  # noqa: E731 - replaced by tests


class Line(fields.Body):
    quantity = fields.Quantity()
    note = fields.Text(longest=20, required=False)


class Body(fields.Body):
    name = fields.Text(longest=20)
    count = fields.Whole(low=1, high=10, required=False)
    gift = fields.YesNo(required=False)
    state = fields.Word(choices=["open", "closed"], required=False)
    day = fields.Day(required=False)
    at = fields.Moment(required=False)
    lines = Line(many=True, required=False, max_length=3)


OK = {200: Reply("Fine."), 201: Reply("Made.", headers=("Location",))}


class Probe(Endpoint):
    operations: ClassVar = {
        "GET": Operation("probeRead", "Read", "Probe", OK, query=(reading.Whole("n", "A number.", high=9),), csv=True),
        "POST": Operation("probeMake", "Make", "Probe", OK, body=Body, once=True),
        "PATCH": Operation("probeChange", "Change", "Probe", OK, body=Body, match=True),
        "DELETE": Operation("probeDrop", "Drop", "Probe", OK, match=True),
    }

    def get(self, call: Call) -> Answer:
        return reply(do(call), etag='"v1"')

    def post(self, call: Call) -> Answer:
        return reply({"number": series.take("probe"), "told": do(call)}, status=201, location="/api/v1/probe")

    def patch(self, call: Call) -> Answer:
        etags.check(call.tags, 7)
        return reply(do(call), etag=etags.of_version(8))

    def delete(self, call: Call) -> Answer:
        etags.check(call.tags, 7)
        return Answer(204)


class Pages(Endpoint):
    operations: ClassVar = {"GET": Operation("probePages", "List", "Probe", OK, query=paging.PARAMETERS)}

    def get(self, call: Call) -> Answer:
        found = paging.page(Series.objects.all(), call.request, dict(call.query), by="next_number")
        return reply({"rows": [row.name for row in found.rows], "next": found.next}, headers=found.headers)


app_name = "api"
probes = ([path("probe", Probe.as_view(), name="me"), path("pages", Pages.as_view(), name="me")], "api")
urlpatterns = [path("api/v1/", include(probes)), *whole.urlpatterns]
handler400, handler404, handler500 = whole.handler400, whole.handler404, whole.handler500
