"""One seed for a review, one independent stream of random numbers for each of its parts.

A stream belongs to the part's name, not to its turn, so that adding a head type or a role
leaves every other answer as it was.
"""

from __future__ import annotations

import hashlib

import numpy as np


def generator(seed: int, *names: str) -> np.random.Generator:
    """Return the generator of the part that `names` name.

    Parameters
    ----------
    seed : int
        The seed of the review.
    *names : str
        What the stream is for, for example "demand", a head type and a role.

    Returns
    -------
    numpy.random.Generator
        A stream of its own.
    """
    # The lengths keep ("ab", "c") and ("a", "bc") apart.
    text = "".join(f"{len(name)}:{name}" for name in names)
    digest = hashlib.sha256(text.encode()).digest()
    words = np.frombuffer(digest, dtype="<u4")
    return np.random.default_rng(np.random.SeedSequence([seed, *(int(word) for word in words)]))
