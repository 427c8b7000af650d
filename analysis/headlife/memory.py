"""Let large numbers of objects be made without a search for garbage among them."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def nothing_to_collect() -> Iterator[None]:
    """Pause the search for cyclic garbage; for work whose objects stay, or free themselves.

    Python repeats that search as the number of objects grows; over a hundred thousand of them
    it takes as long as the work itself.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
