"""Who works on a command's simulations: this process, some of this machine, or a Dask cluster?

From what the person asked for; starts and stops the workers. Knows nothing of what they work on,
and the answers do not depend on them.
"""

from __future__ import annotations

import argparse
import logging
import multiprocessing
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from importlib import import_module
from typing import Any, Final

from headlife.errors import HeadlifeError

# Ctrl-C reaches every process of a terminal; this one tells its workers to stop.
_LEAVE_INTERRUPTS: Final = (signal.SIGINT, signal.SIG_IGN)
_PATIENCE: Final = 10  # seconds until a cluster must have answered


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that say who works.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument(
        "--workers",
        type=int,
        metavar="N",
        help="work with so many processes of this computer; the answer is the same",
    )
    parser.add_argument(
        "--scheduler", metavar="ADDRESS", help="work on this Dask cluster; the answer is the same"
    )


@contextmanager
def executor_asked_for(args: argparse.Namespace) -> Iterator[Executor | None]:
    """Give the executor that the arguments ask for, for as long as the block lasts.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.

    Yields
    ------
    concurrent.futures.Executor or None
        None where this process is to work alone.

    Raises
    ------
    HeadlifeError
        Fewer than one worker, both kinds asked for, no such cluster, or a worker was stopped.
    """
    if args.workers is not None and args.scheduler:
        raise HeadlifeError("Name a cluster (--scheduler) or workers of this computer (--workers).")
    if args.workers is not None and args.workers < 1:
        raise HeadlifeError(f"The number of workers is 1 or more; got {args.workers}.")
    if args.scheduler:
        with unlogged(), client_of(args.scheduler) as client:
            yield client.get_executor()
    elif args.workers is None or args.workers == 1:
        yield None
    else:
        # Started afresh: a copy of this process would copy the progress bar's thread half-way.
        fresh = multiprocessing.get_context("spawn")
        executor = ProcessPoolExecutor(
            args.workers, fresh, initializer=signal.signal, initargs=_LEAVE_INTERRUPTS
        )
        try:
            with executor:
                yield executor
        except KeyboardInterrupt:
            for child in multiprocessing.active_children():
                child.terminate()
            raise
        except BrokenProcessPool:
            raise HeadlifeError(
                "A worker was stopped before it had answered, most likely for want of memory; try "
                "again with fewer --workers."
            ) from None


def client_of(address: str) -> Any:
    """Connect to a Dask cluster.

    Parameters
    ----------
    address : str
        That of its scheduler.

    Returns
    -------
    distributed.Client
        To be used in a `with` block.

    Raises
    ------
    HeadlifeError
        Dask is not installed, or no cluster answers there.
    """
    try:
        return import_module("distributed").Client(address, timeout=_PATIENCE)
    except ModuleNotFoundError:
        raise HeadlifeError(
            "A Dask cluster needs Dask, which is not installed; install headlife[scale]."
        ) from None
    except (OSError, ValueError, TypeError, RuntimeError, ImportError) as problem:
        raise HeadlifeError(
            f"There is no Dask cluster at '{address}' ({problem}); start one or correct the "
            "address."
        ) from None


@contextmanager
def unlogged() -> Iterator[None]:
    """Keep what libraries log of their inside off the screen.

    Where a worker is lost Dask logs tracebacks; what a user needs to know is said in a sentence.
    """
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)
