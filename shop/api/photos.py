"""The photos of a delivery: damage, a tag, the slip."""

from typing import Any, ClassVar

from inventory.models import Delivery, DeliveryPhoto
from inventory.queries import deliveries
from inventory.services import checking_in
from shop.api import fields, filed, paging, reading, shapes
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import NotFound

TAG = "Deliveries"
PHOTO = shapes.thing(id=shapes.WHOLE, name=shapes.TEXT, words=shapes.TEXT, added_at=shapes.MOMENT, sha256=shapes.TEXT)
_EXAMPLE = {
    "id": 5,
    "name": "bend.jpg",
    "words": "the bend",
    "added_at": "2026-03-02T14:05:00Z",
    "sha256": "5f70bf18a086007016e948b04aed3b82103a36bea41755b6cddfaf10ace3c6ef",
}


def _shown(photo: DeliveryPhoto) -> dict[str, Any]:
    return {
        "id": photo.pk,
        "name": photo.file_name,
        "words": photo.words,
        "added_at": fields.moment(photo.added_at),
        "sha256": filed.sha256(photo.file),
    }


def _delivery(call: Call) -> Delivery:
    found = deliveries.by_number(call.path["number"])
    if found is None:
        raise NotFound(f"There is no delivery {call.path['number']}; read the list of deliveries.")
    return found


class DeliveryPhotos(Endpoint):
    """The photos of one delivery."""

    operations: ClassVar = {
        "GET": Operation(
            name="listPhotos",
            summary="List the photos of a delivery",
            tag=TAG,
            words="Photos in the order they were added. The SHA-256 is that of the file as it is handed out.",
            query=paging.PARAMETERS,
            replies={
                200: Reply("One page of photos.", shapes.page(PHOTO), {"rows": [_EXAMPLE], "next": None}, ("Link",))
            },
            snapshot=True,
        ),
        "POST": Operation(
            name="addPhoto",
            summary="Add a photo to a delivery",
            tag=TAG,
            words=(
                "The body is the file itself. A picture is drawn anew, so that where it was taken and whatever else"
                " hangs on it stay behind; its SHA-256 is therefore another one than that of the bytes sent."
            ),
            query=(filed.NAME, reading.Parameter("words", "What it shows.", longest=120, example="the bend")),
            file=checking_in.names_file,
            replies={201: Reply("The photo.", PHOTO, _EXAMPLE, ("Location",))},
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Return one page."""
        page = paging.page(_delivery(call).photos.all(), call.request, dict(call.query), by="id")
        return reply({"rows": [_shown(photo) for photo in page.rows], "next": page.next}, headers=page.headers)

    def post(self, call: Call) -> Answer:
        """Keep it."""
        made = checking_in.add_photo(_delivery(call), call.paper, call.query["words"] or "", at=call.at, by=call.actor)
        return reply_created(reply(_shown(made)), f"/api/v1/photos/{made.pk}")


class OnePhoto(Endpoint):
    """One photo."""

    operations: ClassVar = {
        "GET": Operation(
            name="readPhoto",
            summary="Fetch one photo",
            tag=TAG,
            words="The file itself, to be saved.",
            replies={200: Reply("The file.", file=True)},
        )
    }

    def get(self, call: Call) -> Answer:
        """Hand it out."""
        found = DeliveryPhoto.objects.filter(pk=call.path["id"]).first()
        if found is None:
            raise NotFound(f"There is no photo {call.path['id']}; read the photos of its delivery.")
        return filed.reply_file(found.file, found.file_name, f"photo {found.pk} of a delivery")
