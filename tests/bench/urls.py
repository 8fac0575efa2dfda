"""The service's addresses and the floor's, in one server with the same middleware."""

from django.urls import path

from shop.access import roles
from shop.urls import handler400, handler404, handler500
from shop.urls import urlpatterns as of_the_service
from tests.bench import floor

__all__ = ["handler400", "handler404", "handler500", "urlpatterns"]

_FLOOR = {
    "floor_one": {"GET": "availability:read"},
    "floor_all": {"GET": "availability:read"},
    "floor_hold": {"POST": "orders:write"},
}
roles.API.update(_FLOOR)  # the floor's views look at the key themselves, as the API does

urlpatterns = [
    *of_the_service,
    path("api/floor/availability/<str:code>", floor.one, name="floor_one"),
    path("api/floor/availability", floor.every, name="floor_all"),
    path("api/floor/holds", floor.hold, name="floor_hold"),
]
