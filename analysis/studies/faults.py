"""Killed, out of disk or without its workers: is anything half-written, lost or another answer?

Commands that write are run in a folder of their own and disturbed at random moments: killed
without notice, given a disk that is full after some bytes (a limit on the size of files, which
fails a write as a full disk does), or robbed of a worker process. After each every output is whole
or still what stood there before; after a few of them in one folder the same command, run again,
gives the same bytes and leaves nothing else behind. Commands without workers are run in forks of a
process that has everything imported, so that kills meet the work and not the import.

    python -m studies.faults
    python -m studies.faults --kills 200 --full 50 --lost 50

It prints counts; the exit code is 1 where something was half-written, lost or different.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from headlife.cli import main as main_of_headlife

DEMO: Final = Path(__file__).parents[2] / "data_demo"
OLD: Final = b"an answer of before"
_PATIENCE: Final = 600  # seconds for a run that nobody disturbs
_ROWS: Final = 80  # of the demo's log
_DRAWS: Final = 200
_IN_ONE_FOLDER: Final = 5  # disturbed runs before one is run to its end


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
    Task(("due", *LOG, "--csv", "due.csv", "--calendar", "due.ics"), ("due.csv", "due.ics")),
    Task(("check", *LOG, "--out", "check.html"), ("check.html", "removals.check.csv")),
)
WITH_WORKERS: Final = Task(
    ("evidence", "logs", "--shop", "shop.toml", "--workers", "2", "--out", "bureau.evidence.json"),
    ("bureau.evidence.json",),
)


class Forked:
    """A command in a fork of this process, met as `subprocess.Popen` is."""

    def __init__(self, task: Task, folder: Path, limit: Callable[[], None] | None) -> None:
        self.returncode: int | None = None
        reading, writing = os.pipe()
        self.pid = os.fork()
        if not self.pid:
            os.close(reading)
            _work_and_leave(task, folder, limit, writing)
        os.close(writing)
        self._said = reading

    def wait(self, timeout: float) -> None:
        """Wait for its end; `subprocess.TimeoutExpired` where it comes later."""
        end = time.monotonic() + timeout
        while self.returncode is None:
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                self.returncode = os.waitstatus_to_exitcode(status)
            elif time.monotonic() >= end:
                raise subprocess.TimeoutExpired("headlife", timeout)
            else:
                time.sleep(0.001)

    def communicate(self, timeout: float) -> tuple[bytes, bytes]:
        """Wait for its end; what it said on the error stream."""
        with open(self._said, "rb") as stream:
            said = stream.read()
        self.wait(timeout)
        return b"", said


Process = subprocess.Popen[bytes] | Forked


def _work_and_leave(
    task: Task, folder: Path, limit: Callable[[], None] | None, writing: int
) -> None:
    code = 70
    try:
        os.setsid()
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.dup2(writing, 2)
        # A test that calls this has streams of its own, which are files that grow.
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
        sys.stderr = open(2, "w", closefd=False)  # noqa: SIM115
        os.chdir(folder)
        if limit is not None:
            limit()
        code = main_of_headlife(task.arguments)
    except BaseException:
        traceback.print_exc()
    finally:
        with contextlib.suppress(OSError, ValueError):
            sys.stderr.flush()
        os._exit(code)


def started(task: Task, folder: Path, limit: Callable[[], None] | None = None) -> Process:
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
    subprocess.Popen or Forked
        The process, first of a group of its own.
    """
    if "--workers" not in task.arguments:
        return Forked(task, folder, limit)
    # Workers are told apart by being its children.
    return subprocess.Popen(
        [sys.executable, "-m", "headlife", *task.arguments],
        cwd=folder,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=limit,
    )


def import_all(folder: Path) -> None:
    """Run every command once in this process, so that its forks have all modules.

    Parameters
    ----------
    folder : Path
        Where new folders may be made.
    """
    for task in TASKS:
        with (
            contextlib.chdir(prepared(folder)),
            open(os.devnull, "w") as nowhere,
            contextlib.redirect_stdout(nowhere),
        ):
            main_of_headlife(task.arguments)


def prepared(folder: Path) -> Path:
    """Copy the settings of the demo and the beginning of its log, in a file and a folder of two.

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
    settings = (DEMO / "shop.toml").read_text()
    # Few rows and futures: more of them take longer and write the same files.
    (own / "shop.toml").write_text(settings.replace("[review]", f"[review]\ndraws = {_DRAWS}"))
    header, *rows = (DEMO / "removals.csv").read_text().splitlines(keepends=True)
    rows = rows[:_ROWS]
    (own / "removals.csv").write_text(header + "".join(rows))
    (own / "logs").mkdir()
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
    disturb: Callable[[Process], None],
    limit: Callable[[], None] | None = None,
) -> str:
    """Run a command in a folder prepared for it, disturb it, and look at what it left.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where it works.
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
    for name in task.outputs:
        (folder / name).write_bytes(OLD)
    process = started(task, folder, limit)
    disturb(process)
    _, said = process.communicate(timeout=_PATIENCE)
    if b"Traceback" in said:
        return f"a traceback: {said.decode(errors='replace')[-300:]}"
    for name, data in wanted.items():
        if (folder / name).read_bytes() not in (OLD, data):
            return f"{name} is half-written"
    return ""


def run_again(task: Task, folder: Path, wanted: dict[str, bytes]) -> str:
    """Run a command where it was disturbed, this time to its end.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where it was disturbed.
    wanted : dict of str to bytes
        What it writes undisturbed.

    Returns
    -------
    str
        What is wrong; empty where nothing is.
    """
    for part in folder.glob(".headlife-*.part"):
        # What a kill left is removed by the next run that finds it an hour old.
        os.utime(part, (0.0, 0.0))
    started(task, folder).communicate(timeout=_PATIENCE)
    if any((folder / name).read_bytes() != data for name, data in wanted.items()):
        return "run again, it gives other bytes"
    left = {one.name for one in folder.iterdir()}
    known = {"removals.csv", "shop.toml", "logs", *task.outputs, "removals.check.xlsx"}
    if not left <= known:
        return f"left behind: {', '.join(sorted(left - known))}"
    return ""


def many_disturbed(
    task: Task,
    folder: Path,
    wanted: dict[str, bytes],
    count: int,
    one: Callable[[Path], str],
) -> list[str]:
    """Disturb a command many times, a few times in each folder, and run it again there.

    Parameters
    ----------
    task : Task
        The command.
    folder : Path
        Where new folders may be made.
    wanted : dict of str to bytes
        What it writes undisturbed.
    count : int
        How many times.
    one : callable
        Disturbs it in a folder and says what is wrong.

    Returns
    -------
    list of str
        What is wrong, one for each time; empty where nothing is.
    """
    said = []
    for begin in range(0, count, _IN_ONE_FOLDER):
        own = prepared(folder)
        said += [one(own) for _ in range(min(_IN_ONE_FOLDER, count - begin))]
        said[-1] = said[-1] or run_again(task, own, wanted)
        shutil.rmtree(own)
    return said


def killed(rng: np.random.Generator, seconds: float) -> Callable[[Process], None]:
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

    def disturb(process: Process) -> None:
        try:
            process.wait(wait)
        except subprocess.TimeoutExpired:
            try:
                os.killpg(process.pid, signal.SIGKILL)
            except ProcessLookupError:  # it is no group of its own yet
                os.kill(process.pid, signal.SIGKILL)

    return disturb


def robbed(rng: np.random.Generator, seconds: float) -> Callable[[Process], None]:
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

    def disturb(process: Process) -> None:
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


def undisturbed(process: Process) -> None:
    """Leave a process alone.

    Parameters
    ----------
    process : subprocess.Popen or Forked
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
    parser = argparse.ArgumentParser(prog="python -m studies.faults", description=__doc__)
    parser.add_argument("--kills", type=int, default=12)
    parser.add_argument("--full", type=int, default=6)
    parser.add_argument("--lost", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(arguments)
    rng = np.random.default_rng(args.seed)
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        import_all(folder)
        for kind, count in (("killed", args.kills), ("full disk", args.full)):
            bad = []
            for task, share in zip(TASKS, _shared_out(count, len(TASKS)), strict=True):
                bad += _all_of_a_kind(kind, task, folder, share, rng)
            wrong += _told(kind, bad)
        bad = _all_of_a_kind("worker lost", WITH_WORKERS, folder, args.lost, rng)
        wrong += _told("worker lost", bad)
    return min(wrong, 1)


def _shared_out(count: int, parts: int) -> list[int]:
    return [count // parts + (k < count % parts) for k in range(parts)]


def _all_of_a_kind(
    kind: str, task: Task, folder: Path, count: int, rng: np.random.Generator
) -> list[str]:
    if not count:
        return []
    wanted, seconds = whole(task, folder)

    def one(own: Path) -> str:
        if kind == "full disk":
            limit = full_after(int(rng.integers(max(map(len, wanted.values())))))
            return disturbed(task, own, wanted, undisturbed, limit)
        by = killed if kind == "killed" else robbed
        return disturbed(task, own, wanted, by(rng, seconds))

    return many_disturbed(task, folder, wanted, count, one)


def _told(kind: str, bad: Sequence[str]) -> int:
    wrong = [one for one in bad if one]
    print(f"{kind}: {len(bad)} runs, {len(wrong)} wrong", flush=True)
    for one in wrong[:5]:
        print(f"  {one}")
    return len(wrong)


if __name__ == "__main__":
    sys.exit(main())
