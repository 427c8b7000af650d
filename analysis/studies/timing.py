"""How long do things take beside each other? Seconds in turns, for ratios.

From functions to call; a busy machine slows all of them alike. Judges nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np


def medians(
    *functions: Callable[[], object],
    rounds: int = 15,
    clock: Callable[[], float] = time.perf_counter,
) -> list[float]:
    """Median seconds of each function, called in turns after one call to warm up.

    With `time.process_time` only the processor time of this process counts, which is fair where
    all functions keep one core busy and others compete for it.
    """
    for function in functions:
        function()
    taken = np.empty((rounds, len(functions)))
    for row in taken:
        for column, function in enumerate(functions):
            start = clock()
            function()
            row[column] = clock() - start
    return [float(one) for one in np.median(taken, axis=0)]
