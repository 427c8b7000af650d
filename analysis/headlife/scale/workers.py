"""Workers on this machine for a record in many files: a Dask cluster of local processes.

Starts and stops them; knows nothing of what they work on.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from typing import Any, Final

from headlife.errors import HeadlifeError

# Tables of tens of megabytes come and go many times a second. By Dask's default every one of
# them is given back to the system and asked for again, which took a third of all time.
_KEPT_BYTES: Final = 1 << 29
_ENVIRONMENT: Final = {
    "MALLOC_TRIM_THRESHOLD_": _KEPT_BYTES,
    "MALLOC_MMAP_THRESHOLD_": _KEPT_BYTES,
    # A worker that loses the others has nothing to say that this process does not say in words.
    "DASK_LOGGING__DISTRIBUTED": "critical",
}
_AT_MOST: Final = 32  # workers that a small computer may be asked for too


@contextmanager
def local_workers(workers: int, memory: str = "2GB") -> Iterator[Any]:
    """Run a Dask cluster on this machine for as long as the block lasts.

    Parameters
    ----------
    workers : int
        Processes of one thread each [-].
    memory : str
        Most memory of each, as Dask writes it.

    Yields
    ------
    distributed.Client

    Raises
    ------
    HeadlifeError
        No worker asked for, or Dask is not installed.
    """
    if workers < 1:
        raise HeadlifeError(f"The number of workers is 1 or more; got {workers}.")
    most = max(_AT_MOST, 4 * (os.cpu_count() or 1))
    if workers > most:
        raise HeadlifeError(
            f"{workers:,} workers are more than this computer carries ({most} at most); as many as "
            "it has processors are quickest."
        )
    try:
        dask, distributed = import_module("dask"), import_module("distributed")
    except ModuleNotFoundError as missing:
        raise HeadlifeError(
            "Workers on this computer need Dask, which is not installed; install headlife[scale]."
        ) from missing
    own = dask.config.get("distributed.nanny.pre-spawn-environ", default={})
    with (
        dask.config.set({"distributed.nanny.pre-spawn-environ": own | _ENVIRONMENT}),
        distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            memory_limit=memory,
            # Dask opens a port even for no dashboard; any free one, so that clusters never meet.
            dashboard_address="127.0.0.1:0",
            host="127.0.0.1",
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client
