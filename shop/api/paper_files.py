"""The paper of a certificate: filed alone, added to one that has only its figures, handed out."""

from typing import ClassVar

from inventory.queries import papers
from inventory.services import certificates
from inventory.services.certificates import TypedCertificate
from shop.api import filed, reading
from shop.api.grades import TAG
from shop.api.papers_shown import CERTIFICATE, EXAMPLE, find_certificate, find_melt, shown
from shop.api.shipments import reply_created
from shop.api.view import Answer, Call, Endpoint, Operation, Reply, reply
from shop.shared.errors import Invalid, NotFound

_WITH_PAPER = EXAMPLE | {
    "file": {
        "name": "certificate 0A7731.pdf",
        "sha256": "5f70bf18a086007016e948b04aed3b82103a36bea41755b6cddfaf10ace3c6ef",
    }
}


def _created(call: Call, number: int, location: str) -> Answer:
    made = papers.certificates().get(pk=number)
    return reply_created(reply(shown(made)), location)


class PaperAlone(Endpoint):
    """A certificate that is only its paper."""

    operations: ClassVar = {
        "POST": Operation(
            name="filePaper",
            summary="File the paper of a certificate with a melt",
            tag=TAG,
            words=(
                "The body is the file itself. A certificate is filed that is only this paper, as a scanner brings it; its"
                " figures can be typed from it later. To keep figures and paper in one, file the figures and add the paper"
                " to that certificate. The melt's certificate is awaited no more."
            ),
            query=(
                filed.NAME,
                reading.Parameter("number", "Number of the certificate.", longest=60, example="C-1"),
                reading.Parameter("read_by", "Initials: read and within limits.", longest=8, example="HE"),
            ),
            file=certificates.names_file,
            replies={201: Reply("The certificate.", CERTIFICATE, _WITH_PAPER, ("Location",))},
            refusals=(409,),
            once=True,
        )
    }

    def post(self, call: Call) -> Answer:
        """File it."""
        typed = TypedCertificate(number=call.query["number"] or "", read_by=call.query["read_by"] or "")
        melt = find_melt(call)
        try:
            made = certificates.file(melt, typed, at=call.at, by=call.actor, paper=call.paper)
        except Invalid as refusal:
            refusal.errors = [  # type: ignore[attr-defined]
                {"parameter": name, "code": refusal.code, "message": said} for name, said in refusal.fields.items()
            ]
            raise
        return _created(call, made.pk, f"/api/v1/certificates/{made.pk}")


class Paper(Endpoint):
    """The paper of one certificate."""

    operations: ClassVar = {
        "GET": Operation(
            name="readPaper",
            summary="Fetch the paper of a certificate",
            tag=TAG,
            words="The file itself, to be saved.",
            replies={200: Reply("The file.", file=True)},
        ),
        "POST": Operation(
            name="addPaper",
            summary="Add the paper to a certificate",
            tag=TAG,
            words=(
                "The body is the file itself. For a certificate that was filed by its figures; one that has its paper, or"
                " was taken back, takes no other. What was found of it stays as it was."
            ),
            query=(filed.NAME,),
            file=certificates.names_file,
            replies={201: Reply("The certificate.", CERTIFICATE, _WITH_PAPER, ("Location",))},
            refusals=(409,),
            once=True,
        ),
    }

    def get(self, call: Call) -> Answer:
        """Hand it out."""
        found = find_certificate(call)
        if not found.file:
            raise NotFound(f"Certificate {found.pk} was filed without its paper.")
        return filed.reply_file(found.file, found.file_name, f"the paper of certificate {found.pk}")

    def post(self, call: Call) -> Answer:
        """Keep it."""
        found = find_certificate(call)
        certificates.add_paper(found, call.paper, at=call.at, by=call.actor)
        return _created(call, found.pk, f"/api/v1/certificates/{found.pk}/paper")
