"""What a copy looks like: a folder named by its minute, with the database, the files, the key and a note about it.

A copy of a SQLite shop has the form of a data folder: the service can be started on it as it is.
"""

import fcntl
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from shop.shared.errors import NotFound, Refusal

NAME = re.compile(r"\d{4}-\d\d-\d\d-\d{4}(?:-\d+)?")
UNFINISHED = ".making-"
SQLITE = "bickern.sqlite3"
DUMP = "book.dump"
FILES = "files"
KEY = "secret_key"
ABOUT = "about.json"


class CopyFailed(Refusal):
    """A copy could not be made or does not open."""

    code = "copy_failed"


class NotNow(Refusal):
    """Something else is at work on the same folder."""

    code = "not_now"


@dataclass(frozen=True, slots=True)
class About:
    """The note that lies in a copy."""

    made_at: str
    shop: str
    database: str
    movements: int
    migrations: list[str]

    def write(self, folder: Path) -> None:
        """Lay the note into a copy."""
        (folder / ABOUT).write_text(json.dumps(asdict(self), indent=1, ensure_ascii=False) + "\n")


def read_about(folder: Path) -> About:
    """Return the note of a copy."""
    try:
        return About(**json.loads((folder / ABOUT).read_text()))
    except (OSError, ValueError, TypeError) as exc:
        raise NotFound(f"{folder} is no copy of a shop; name a folder that `manage.py backup` made.") from exc


def copies(folder: Path) -> list[Path]:
    """List the finished copies of a folder, the oldest first."""
    return sorted(path for path in folder.glob("*") if path.is_dir() and NAME.fullmatch(path.name))


@contextmanager
def alone(lock: Path, sentence: str) -> Iterator[None]:
    """Hold a lock file for this process; it is let go of by itself when the process dies."""
    lock.parent.mkdir(parents=True, exist_ok=True)
    with lock.open("a") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as exc:
            raise NotNow(sentence) from exc
        yield
