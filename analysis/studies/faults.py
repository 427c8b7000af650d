"""Killed, out of disk or without its workers: is anything half-written, lost or another answer?

Commands that write are run in a folder of their own and disturbed at random moments: killed
without notice, given a disk that is full after some bytes (a limit on the size of files, which
fails a write as a full disk does), or robbed of a worker process. Afterwards every output is whole
or still what stood there before, and the same command run again gives the same bytes and leaves
nothing else behind.

    python -m studies.faults
    python -m studies.faults --kills 200 --full 50 --lost 50

It prints counts; the exit code is 1 where something was half-written, lost or different.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

DEMO: Final = Path(__file__).parents[2] / "data_demo"
OLD: Final = b"an answer of before"
_PATIENCE: Final = 600  # seconds for a run that nobody disturbs


@dataclass(frozen=True)
class Task:
    """A command that writes, and what it writes."""

    arguments: tuple[str, ...]
    """Of `headlife`."""
    outputs: tuple[str, ...]
    """Names of the files it writes."""


LOG: Final = ("removals.csv", "--shop", "shop.toml")
TASKS: Final = (
    Task(("review", *LOG, "--out", "page.html"), ("page.html",)),
    Task(("evidence", *LOG, "--out", "hall.evidence.json"), ("hall.evidence.json",)),
    Task(("check", *LOG, "--out", "check.html"), ("check.html", "removals.check.csv")),
)
WITH_WORKERS: Final = Task(
    ("evidence", "logs", "--shop", "shop.toml", "--workers", "2", "--out", "bureau.evidence.json"),
    ("bureau.evidence.json",),
)


def started(
    task: Task, folder: Path, limit: Callable[[], None] | None = None
) -> subprocess.Popen[bytes]:
    """Start a command in a folder.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where it works.
    limit : callable, optional
        Called in the new process before the command.

    Returns
    -------
    subprocess.Popen
        The process, first of a group of its own.
    """
    return subprocess.Popen(
        [sys.executable, "-m", "headlife", *task.arguments],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=limit,
    )


def prepared(folder: Path) -> Path:
    """Copy the demo's log and settings, in a file and in a folder of two.

    Parameters
    ----------
    folder : Path
        A new folder is made in it.

    Returns
    -------
    Path
        The folder to work in.
    """
    own = Path(tempfile.mkdtemp(dir=folder))
    for name in ("removals.csv", "shop.toml"):
        shutil.copy(DEMO / name, own / name)
    (own / "logs").mkdir()
    header, *rows = (DEMO / "removals.csv").read_text().splitlines(keepends=True)
    half = len(rows) // 2
    (own / "logs" / "a.csv").write_text(header + "".join(rows[:half]))
    (own / "logs" / "b.csv").write_text(header + "".join(rows[half:]))
    return own


def whole(task: Task, folder: Path) -> tuple[dict[str, bytes], float]:
    """Run a command undisturbed.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where new folders may be made.

    Returns
    -------
    tuple of dict and float
        What it writes by name, and how long it took [s].
    """
    own, begun = prepared(folder), time.monotonic()
    process = started(task, own)
    _, said = process.communicate(timeout=_PATIENCE)
    if process.returncode:
        raise RuntimeError(said.decode(errors="replace"))
    return {name: (own / name).read_bytes() for name in task.outputs}, time.monotonic() - begun


def disturbed(
    task: Task,
    folder: Path,
    wanted: dict[str, bytes],
    disturb: Callable[[subprocess.Popen[bytes]], None],
    limit: Callable[[], None] | None = None,
) -> str:
    """Run a command, disturb it, look at what it left, and run it again.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where new folders may be made.
    wanted : dict of str to bytes
        What it writes undisturbed.
    disturb : callable
        Called with the process that runs.
    limit : callable, optional
        Called in the process before the command.

    Returns
    -------
    str
        What is wrong; empty where nothing is.
    """
    own = prepared(folder)
    for name in task.outputs:
        (own / name).write_bytes(OLD)
    process = started(task, own, limit)
    disturb(process)
    _, said = process.communicate(timeout=_PATIENCE)
    if b"Traceback" in said:
        return f"a traceback: {said.decode(errors='replace')[-300:]}"
    for name, data in wanted.items():
        if (own / name).read_bytes() not in (OLD, data):
            return f"{name} is half-written"
    again = started(task, own)
    again.communicate(timeout=_PATIENCE)
    if any((own / name).read_bytes() != data for name, data in wanted.items()):
        return "run again, it gives other bytes"
    left = {one.name for one in own.iterdir()}
    known = {"removals.csv", "shop.toml", "logs", *task.outputs, "removals.check.xlsx"}
    if not left <= known:
        return f"left behind: {', '.join(sorted(left - known))}"
    shutil.rmtree(own)
    return ""


def killed(rng: np.random.Generator, seconds: float) -> Callable[[subprocess.Popen[bytes]], None]:
    """Kill a process and all it started, at a random moment of its run.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    seconds : float
        How long a run takes [s].

    Returns
    -------
    callable
        To be called with the process.
    """
    wait = float(rng.uniform(0.0, 1.05 * seconds))

    def disturb(process: subprocess.Popen[bytes]) -> None:
        try:
            process.wait(wait)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)

    return disturb


def robbed(rng: np.random.Generator, seconds: float) -> Callable[[subprocess.Popen[bytes]], None]:
    """Kill one process that a process started, at a random moment of its run.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    seconds : float
        How long a run takes [s].

    Returns
    -------
    callable
        To be called with the process.
    """
    wait = float(rng.uniform(0.2, 0.9)) * seconds

    def disturb(process: subprocess.Popen[bytes]) -> None:
        try:
            process.wait(wait)
        except subprocess.TimeoutExpired:
            path = Path(f"/proc/{process.pid}/task/{process.pid}/children")
            children = [int(one) for one in path.read_text().split()]
            if children:
                os.kill(children[int(rng.integers(len(children)))], signal.SIGKILL)

    return disturb


def full_after(size: int) -> Callable[[], None]:
    """Let no file grow beyond so many bytes, as on a disk that is full then.

    Parameters
    ----------
    size : int
        Bytes.

    Returns
    -------
    callable
        To be called in the process itself.
    """
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def undisturbed(process: subprocess.Popen[bytes]) -> None:
    """Leave a process alone.

    Parameters
    ----------
    process : subprocess.Popen
        The process.
    """


def main(arguments: Sequence[str] | None = None) -> int:
    """Disturb runs, and count.

    Parameters
    ----------
    arguments : sequence of str, optional
        Of the command line.

    Returns
    -------
    int
        Exit code: 1 where something is wrong.
    """
    parser = argparse.ArgumentParser(prog="studies.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=12)
    parser.add_argument("--full", type=int, default=6)
    parser.add_argument("--lost", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(arguments)
    rng = np.random.default_rng(args.seed)
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        runs = [(task, *whole(task, folder)) for task in TASKS]
        for kind, count in (("killed", args.kills), ("full disk", args.full)):
            bad = []
            for k in range(count):
                task, wanted, seconds = runs[k % len(runs)]
                if kind == "killed":
                    bad.append(disturbed(task, folder, wanted, killed(rng, seconds)))
                else:
                    limit = full_after(int(rng.integers(max(map(len, wanted.values())))))
                    bad.append(disturbed(task, folder, wanted, undisturbed, limit))
            wrong += _told(kind, bad)
        if args.lost:
            wanted, seconds = whole(WITH_WORKERS, folder)
            bad = [
                disturbed(WITH_WORKERS, folder, wanted, robbed(rng, seconds))
                for _ in range(args.lost)
            ]
            wrong += _told("worker lost", bad)
    return min(wrong, 1)


def _told(kind: str, bad: Sequence[str]) -> int:
    wrong = [one for one in bad if one]
    print(f"{kind}: {len(bad)} runs, {len(wrong)} wrong", flush=True)
    for one in wrong[:5]:
        print(f"  {one}")
    return len(wrong)


if __name__ == "__main__":
    sys.exit(main())
