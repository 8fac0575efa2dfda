"""Who acts: a person, a program by its key, or a command of the service."""

from dataclasses import dataclass

from shop.access.models import ApiKey, Person


@dataclass(frozen=True, slots=True)
class Actor:
    """The acting person where there is one, and the words that the book and the audit line name it by."""

    person: Person | None
    label: str

    @classmethod
    def of(cls, person: Person) -> "Actor":
        """Return a person as the one who acts."""
        return cls(person, person.login)

    @classmethod
    def key(cls, key: ApiKey) -> "Actor":
        """Return a program as the one who acts."""
        return cls(None, f"key {key.name}"[:80])

    @classmethod
    def command(cls, name: str) -> "Actor":
        """Return a command or the nightly work as the one who acts."""
        return cls(None, name)
