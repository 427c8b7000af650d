"""Does any file, however broken, end with an answer or with a sentence? A driver with a corpus.

The doors that are knocked at: a table, one without serials, a workbook, a Parquet file, a draft of
settings from a table, the settings and an evidence file.
Each begins with sound files and those that earlier runs kept, and changes them: bytes, lines, cells
and numbers. Whatever is read must come back whole (no row lost, evidence that fits again) or as a
`HeadlifeError`. An input that is met in a way not met before (its sentence, without numbers and
names) is kept, so that later runs start from what earlier ones found. Each input may take so much
time and the process so much memory; more is a fault too.

    python -m studies.fuzz --time 60
    python -m studies.fuzz --time 3600 --what workbook evidence --corpus some/folder
    make fuzz TIME=600

A fault stops the door it was found at, its input is kept under `faults`, and the exit code is 1.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import re
import resource
import signal
import sys
import tempfile
import time
import tomllib
import traceback
import warnings
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType
from typing import Final

import numpy as np
import pandas as pd

import headlife as hl
from headlife.errors import HeadlifeError
from headlife.life.site_evidence import SiteEvidence, site_evidence
from headlife.shop import Shop

DEMO: Final = Path(__file__).parents[2] / "data_demo"
CORPUS: Final = Path(".fuzz")
NAMES: Final = ("table", "nameless", "workbook", "parquet", "draft", "settings", "evidence")
MOST_SECONDS: Final = 60
MOST_BYTES: Final = 2 * 2**30  # of memory beyond what is in use at the start
_MOST_KEPT: Final = 3_000  # inputs kept
_ROWS: Final = 24  # of the demo in a seed: small files are changed more often in one place
_SPICE: Final = (
    *(b"", b"0", b"-1", b"1e309", b"nan", b"99999999999999999999", b"2126-02-01", b"31/02/2025"),
    *(b'"', b"'", b";", b"\t", b"\n", b"\r", b"\x00", b"\xff\xfe", b"\xe2\x80\xae", b"=1+1"),
    *(b"1.234,5", b"1,234.5", b"12:61", b"#REF!", b"true", b"null", b"[", b"{", b"}", b"\\u0000"),
)
_NUMBERS: Final = re.compile(rb"-?\d+(?:\.\d+)?")
_SAID: Final = re.compile(r"'[^']*'|\"[^\"]*\"|[\d.,:+-]+|\S*/\S*")


class TooLong(Exception):
    """An input took longer than it may."""


class Doors:
    """What can be read, each with its sound files."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.shop = hl.read_shop(DEMO / "shop.toml")
        rows = pd.read_csv(DEMO / "removals.csv", dtype=str).head(_ROWS)
        case = hl.read_case(DEMO / "removals.csv", shop=DEMO / "shop.toml")
        told = site_evidence(case.evidence, case.shop, "Hall", case.day)
        book, parquet = io.BytesIO(), io.BytesIO()
        rows.to_excel(book, index=False)
        rows.to_parquet(parquet, index=False)
        table = rows.to_csv(index=False)
        stays = rows.drop(columns=["hours_in", "hours_out"])
        run = rows["hours_out"].astype(float) - rows["hours_in"].astype(float)
        text = (DEMO / "shop.toml").read_text(encoding="utf-8")
        nameless = folder / "nameless.toml"
        nameless.write_text(f"{text}\n[intake]\nwithout_serials = true\n", encoding="utf-8")
        self.nameless = hl.read_shop(nameless)
        self.seeds: dict[str, list[bytes]] = {
            "table": [
                table.encode(),
                rows.to_csv(index=False, sep=";").encode(),
                stays.assign(hours_run=run.round(1)).to_csv(index=False).encode(),
                # Another table below it, and headings where serials stand.
                f"{table}\nType,Shelf,Counted on\nStandard,4,2026-09-30\nFibre,2,\n".encode(),
                re.sub(r"\n(?=S)", "\nWorkshop 2\n", table, count=3).encode(),
            ],
            "nameless": [rows.drop(columns=["head"]).to_csv(index=False).encode()],
            "workbook": [book.getvalue()],
            "parquet": [parquet.getvalue()],
            "draft": [table.encode(), stays.assign(ran=run).to_csv(index=False).encode()],
            "settings": [(DEMO / "shop.toml").read_bytes()],
            "evidence": [
                told.shareable().to_json().encode(),
                told.shareable(exact=True).to_json().encode(),
            ],
        }
        self.knock: dict[str, Callable[[bytes], None]] = {
            "table": lambda data: self._records(data, "log.csv", self.shop),
            "nameless": lambda data: self._records(data, "log.csv", self.nameless),
            "workbook": lambda data: self._records(data, "log.xlsx", self.shop),
            "parquet": lambda data: self._records(data, "log.parquet", self.shop),
            "draft": self._draft,
            "settings": self._settings,
            "evidence": self._evidence,
        }

    def _records(self, data: bytes, name: str, shop: Shop) -> None:
        path = self.folder / name
        path.write_bytes(data)
        records = hl.read_records(path, shop, unknown="set aside")
        used, aside, left = len(records.accepted), records.set_aside, len(records.no_records)
        if used + len(aside) + left != records.rows_read:
            raise AssertionError("rows were lost")
        if not aside["row"].is_unique:
            raise AssertionError("a row was set aside twice")
        if used:
            known = hl.lives(records)
            if not (known["exit_hours"] >= known["entry_hours"]).all():
                raise AssertionError("a life ends before it begins")

    def _draft(self, data: bytes) -> None:
        path = self.folder / "log.csv"
        path.write_bytes(data)
        tomllib.loads(hl.draft_settings(path))

    def _settings(self, data: bytes) -> None:
        path = self.folder / "shop.toml"
        path.write_bytes(data)
        hl.read_shop(path)

    def _evidence(self, data: bytes) -> None:
        # With a checksum that fits: who forges a file writes one too.
        body = data.rpartition(b'"sha256": "')[0] or data
        text = body.decode("utf-8", "surrogateescape").encode("utf-8", "replace").decode()
        digest = hashlib.sha256(text.encode()).hexdigest()
        read = SiteEvidence.from_json(f'{text}"sha256": "{digest}"}}\n')
        if SiteEvidence.from_json(read.to_json()).to_json() != read.to_json():
            raise AssertionError("evidence does not fit again once it is written")
        hl.pool_sites([read])


def changed(rng: np.random.Generator, data: bytes, other: bytes, packed: bool) -> bytes:
    """Change a file in a few places.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    data, other : bytes
        The file, and another of its kind to take pieces from.
    packed : bool
        Whether it is an archive, changed inside one of its parts.

    Returns
    -------
    bytes
        The changed file.
    """
    if packed and rng.random() < 0.9:
        try:
            return _part_changed(rng, data)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, KeyError):
            pass
    for _ in range(int(rng.integers(1, 5))):
        data = _CHANGES[int(rng.integers(len(_CHANGES)))](rng, data, other)
    return data[: 1 << 20]


def _part_changed(rng: np.random.Generator, data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = list(parts)[int(rng.integers(len(parts)))]
    parts[name] = changed(rng, parts[name], parts[name], packed=False)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for one, content in parts.items():
            archive.writestr(one, content)
    return out.getvalue()


def _place(rng: np.random.Generator, data: bytes) -> int:
    return int(rng.integers(len(data) + 1))


def _byte(rng: np.random.Generator, data: bytes, _: bytes) -> bytes:
    at = _place(rng, data)
    return data[:at] + bytes([int(rng.integers(256))]) + data[at + 1 :]


def _spiced(rng: np.random.Generator, data: bytes, _: bytes) -> bytes:
    at = _place(rng, data)
    return data[:at] + _SPICE[int(rng.integers(len(_SPICE)))] + data[at + int(rng.integers(4)) :]


def _number(rng: np.random.Generator, data: bytes, _: bytes) -> bytes:
    found = list(_NUMBERS.finditer(data))
    if not found:
        return data
    one = found[int(rng.integers(len(found)))]
    new = _SPICE[int(rng.integers(8))] if rng.random() < 0.7 else b"%d" % rng.integers(-9, 10**9)
    return data[: one.start()] + new + data[one.end() :]


def _lines(rng: np.random.Generator, data: bytes, other: bytes) -> bytes:
    lines, more = data.split(b"\n"), other.split(b"\n")
    at, what = int(rng.integers(len(lines))), int(rng.integers(3))
    if what == 0:
        del lines[at]
    else:
        source = lines if what == 1 else more
        lines.insert(at, source[int(rng.integers(len(source)))])
    return b"\n".join(lines)


def _cut(rng: np.random.Generator, data: bytes, _: bytes) -> bytes:
    start, end = sorted((_place(rng, data), _place(rng, data)))
    return data[:start] + data[end:] if rng.random() < 0.5 else data[:end] + data[start:]


_CHANGES: Final = (_byte, _spiced, _spiced, _number, _number, _lines, _cut)


def met(knock: Callable[[bytes], None], data: bytes) -> tuple[str, str]:
    """Knock with an input, and say how it was met.

    Parameters
    ----------
    knock : callable
        Reads it.
    data : bytes
        The input.

    Returns
    -------
    tuple of str
        A signature, and the fault with its traceback; no fault where it is empty.
    """
    # Its own time: a busy machine is no fault of the input.
    signal.signal(signal.SIGPROF, _stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        knock(data)
    except HeadlifeError as sentence:
        said = _SAID.sub("#", str(sentence))
        return f"{said[:100]} ... {said[-30:]}", ""
    except (Exception, TooLong, MemoryError) as fault:  # whatever it is, it is what we look for
        return type(fault).__name__, traceback.format_exc()
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    return "read", ""


def _stop(_: int, __: FrameType | None) -> None:
    raise TooLong(f"an input took more than {MOST_SECONDS} s of a processor")


def run(name: str, doors: Doors, corpus: Path, seconds: float, seed: int) -> Iterator[str]:
    """Knock at one door for a while.

    Parameters
    ----------
    name : str
        Which door.
    doors : Doors
        All of them.
    corpus : Path
        Folder whose sub-folder of that name is started from and added to.
    seconds : float
        How long [s].
    seed : int
        Of the random numbers.

    Yields
    ------
    str
        A fault; then there is no more.
    """
    rng = np.random.default_rng([seed, len(name)])
    own = corpus / name
    own.mkdir(parents=True, exist_ok=True)
    known = [*doors.seeds[name], *(one.read_bytes() for one in sorted(own.iterdir()))]
    knock, seen, inputs = doors.knock[name], set(), 0
    end = time.monotonic() + seconds
    for data in known:
        signature, fault = met(knock, data)
        seen.add(signature)
        inputs += 1
        if fault:
            yield _fault(corpus, name, data, fault)
            return
    while time.monotonic() < end:
        base, other = (known[int(rng.integers(len(known)))] for _ in range(2))
        data = changed(rng, base, other, name == "workbook")
        signature, fault = met(knock, data)
        inputs += 1
        if fault:
            yield _fault(corpus, name, data, fault)
            return
        # A sentence may quote what cannot be told from its words: then all are new.
        if signature not in seen and len(seen) < _MOST_KEPT:
            seen.add(signature)
            known.append(data)
            (own / hashlib.sha256(data).hexdigest()[:16]).write_bytes(data)
    print(f"{name}: {inputs:,} inputs met in {len(seen)} ways, no fault")


def _fault(corpus: Path, name: str, data: bytes, fault: str) -> str:
    place = corpus / "faults" / f"{name}-{hashlib.sha256(data).hexdigest()[:16]}"
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(data)
    return f"{name}: a fault, kept as {place}\n{fault}"


def main(arguments: list[str] | None = None) -> int:
    """Fuzz.

    Parameters
    ----------
    arguments : list of str, optional
        Of the command line.

    Returns
    -------
    int
        Exit code: 1 where a fault was found.
    """
    parser = argparse.ArgumentParser(prog="python -m studies.fuzz", description=__doc__)
    parser.add_argument("--what", nargs="+", choices=NAMES, default=NAMES)
    parser.add_argument("--time", type=float, default=60.0, help="seconds for each")
    parser.add_argument("--corpus", type=Path, default=CORPUS)
    parser.add_argument("--seed", type=int, default=None, help="default: another one each run")
    args = parser.parse_args(arguments)
    seed = int(time.time()) if args.seed is None else args.seed
    # What no number can be is to be refused, not carried on with.
    warnings.simplefilter("error", RuntimeWarning)
    print(json.dumps({"seed": seed, "corpus": str(args.corpus)}))
    found = 0
    with tempfile.TemporaryDirectory() as folder:
        doors = Doors(Path(folder))
        used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (used + MOST_BYTES, resource.RLIM_INFINITY))
        for name in args.what:
            for fault in run(name, doors, args.corpus, args.time, seed):
                print(fault)
                found += 1
    return min(found, 1)


if __name__ == "__main__":
    sys.exit(main())
