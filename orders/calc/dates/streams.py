"""Random numbers that depend on the seed and on what they are for, never on the order in which they are drawn.

So a further order leaves the rejects of every other run as they were, and two questions can be compared future by future.
"""

import hashlib

import numpy as np


def stream(seed: int, what: str, *which: object) -> np.random.Generator:
    """Give the random numbers of one thing.

    Args:
        seed: of the whole question.
        what: kind of thing: "good", "minutes".
        which: names the thing: a run's code, a step's number.

    Returns:
        A generator of its own.
    """
    said = "\x1f".join([str(seed), what, *map(str, which)]).encode()
    return np.random.Generator(np.random.Philox(key=int.from_bytes(hashlib.blake2b(said, digest_size=16).digest())))
