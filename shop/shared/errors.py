"""A refusal: what is wrong with which field and what would work, in one sentence. Nothing has changed when it is raised."""

from collections.abc import Mapping


class Refusal(Exception):
    """An action that was not carried out.

    Args:
        sentence: one sentence that says what is wrong and what would work.
        fields: field name to sentence, where the cause is one or more fields.
        facts: machine-readable figures for the API (available, requested ...).
    """

    code = "refused"
    status = 409

    def __init__(
        self,
        sentence: str,
        fields: Mapping[str, str] | None = None,
        facts: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.fields = dict(fields or {})
        self.facts = dict(facts or {})


class Invalid(Refusal):
    """A value that cannot be used as it stands."""

    code = "invalid"
    status = 422

    @classmethod
    def field(cls, name: str, sentence: str) -> "Invalid":
        """Refuse one field."""
        return cls(sentence, {name: sentence})


class NotFound(Refusal):
    """The thing named does not exist, or not for this client."""

    code = "not_found"
    status = 404


class Stale(Refusal):
    """The thing has changed since it was read."""

    code = "stale"
    status = 412
