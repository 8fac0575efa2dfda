"""Random streams keyed by what they decide, never by when they are asked: (seed, what, which ...).

So one order more changes no reject of a run it has nothing to do with, and the same key gives the same figures anywhere.
"""

import hashlib
from collections.abc import Sequence

import numpy as np


def stream(seed: int, *words: str | int) -> np.random.Generator:
    """Return the generator of a key."""
    digest = hashlib.blake2b(repr((seed, *words)).encode(), digest_size=16).digest()
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(int.from_bytes(digest))))


def drawn(generator: np.random.Generator, chances: Sequence[float]) -> int:
    """Return an index, each with its chance; uses up one uniform."""
    left = generator.random() * sum(chances)
    for at, chance in enumerate(chances):
        left -= chance
        if left < 0:
            return at
    return len(chances) - 1
