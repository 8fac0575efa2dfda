"""Turns at reckoning: how many answers one web process works out at once, so that threads are left for everything else."""

import contextlib
from collections.abc import Iterator
from threading import BoundedSemaphore
from typing import Final

from shop.shared.errors import Refusal

# Of the four threads of a web process one at the least is left for pages and counts, whoever asks. No source
PROGRAMS: Final = BoundedSemaphore(1)
DESK: Final = BoundedSemaphore(2)
SECONDS: Final = 3  # after which it is worth trying again: about one answer. No source


class NoTurn(Refusal):
    """As many answers as the shop works out at once are being worked out."""

    code = "no_turn"
    status = 503


@contextlib.contextmanager
def tried(turns: BoundedSemaphore) -> Iterator[bool]:
    """Take a turn where one is free and say whether it was; nobody waits for one."""
    mine = turns.acquire(blocking=False)
    try:
        yield mine
    finally:
        if mine:
            turns.release()


@contextlib.contextmanager
def taken(turns: BoundedSemaphore) -> Iterator[None]:
    """Take a turn or refuse.

    Raises:
        NoTurn: none is free.
    """
    with tried(turns) as mine:
        if not mine:
            raise NoTurn(
                "Another answer is being worked out; send the same request again in a moment.",
                facts={"retry_after_seconds": SECONDS},
            )
        yield
