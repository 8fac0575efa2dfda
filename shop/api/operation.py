"""What a method of an address declares, and one request as it was read."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest

from shop.access.actor import Actor
from shop.api import bodies, fields, keys, reading
from shop.api.filed import Sent
from shop.api.refusals import NotAllowed
from shop.shared.files import Kept


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer an operation can give, for the description: what it holds and an example of it."""

    words: str
    shape: Mapping[str, Any] | None = None
    example: Any = None
    headers: Sequence[str] = ()
    file: bool = False


@dataclass(frozen=True, slots=True)
class Operation:
    """What one method of an address takes and gives; the reader, the checks and the description all follow it.

    `file` makes the body a file, and tells whether a row names a kept one: where none does, it is taken away again.
    """

    name: str
    summary: str
    tag: str
    replies: Mapping[int, Reply]
    words: str = ""
    query: Sequence[reading.Parameter] = ()
    body: type[fields.Body] | None = None
    example: Any = None
    refusals: Sequence[int] = ()
    once: bool = False
    match: bool = False
    csv: bool = False
    snapshot: bool = False
    file: Callable[[str], bool] | None = None

    @property
    def gives_file(self) -> bool:
        """Return whether the answer is a file."""
        return any(reply.file for reply in self.replies.values())


@dataclass(frozen=True, slots=True)
class Call:
    """One request, read: who asks, when, and every value in its own type."""

    request: HttpRequest
    at: Any
    client: keys.Client | None
    path: Mapping[str, Any]
    query: Mapping[str, Any] = field(default_factory=dict)
    body: Mapping[str, Any] = field(default_factory=dict)
    tags: tuple[str, ...] | None = None
    csv: bool = False
    sent: Sent | None = None

    @property
    def paper(self) -> Kept:
        """Return the file that was sent, as it may be kept."""
        assert self.sent is not None
        return self.sent.kept

    @property
    def fingerprint(self) -> str:
        """Return what makes this request the same as another: its body, or its file with everything said of it."""
        return bodies.fingerprint({"file": self.sent.digest, **self.query} if self.sent else self.body)

    @property
    def by(self) -> str:
        """Return how the book names whoever asks."""
        return self.client.name if self.client else "nobody"

    @property
    def actor(self) -> Actor:
        """Return the program as the one who acts in the book."""
        return Actor(None, self.by)

    def need(self, scope: str) -> None:
        """Refuse a key that lacks a further scope than its address asks for."""
        if not self.may(scope):
            raise NotAllowed(
                f"This key may not do this; it needs the scope {scope} too.", facts={"needed_scope": scope}
            )

    def may(self, scope: str) -> bool:
        """Tell whether the key also has another scope."""
        return self.client is not None and scope in self.client.key.scopes
