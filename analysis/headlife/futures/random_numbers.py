"""Random numbers in single precision: uniform and exponential, two from each word of a generator.

That takes half the time of the generator's own methods. Same seed, same bytes. Knows no heads.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Singles = NDArray[np.float32]


def exponentials(n: int, rng: np.random.Generator) -> Singles:
    """Draw standard exponential numbers in single precision, by inversion.

    Parameters
    ----------
    n : int
        How many.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array of float
        Numbers [-], (n,).
    """
    numbers = uniforms(n, rng)
    np.log(numbers, out=numbers)
    return np.negative(numbers, out=numbers)


def uniforms(n: int, rng: np.random.Generator) -> Singles:
    """Draw numbers between 0 and 1 in single precision, two from each word of the generator.

    Steps are 2e-10 near 0, which is where the logarithm needs them, and 6e-8 near 1.

    Parameters
    ----------
    n : int
        How many.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array of float
        Numbers [-], (n,).
    """
    words = rng.bit_generator.random_raw((n + 1) // 2).view(np.uint32)[:n]
    numbers = words.astype(np.float32)
    numbers *= np.float32(2.0**-32)
    return numbers
