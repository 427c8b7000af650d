"""How long does a person wait for `import headlife` and for `headlife review`?

Beside imports that any program of this kind needs, in turns on the same machine; wall time, since
that is what a person waits for.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from studies.bench.measured import Measured, at_most
from studies.bench.records import DEMO
from studies.timing import medians

_FIRST_ANSWER = "Does the rating hold?"


def _python(code: str) -> Callable[[], object]:
    return lambda: subprocess.run([sys.executable, "-c", code], check=True)


def _review(*options: str) -> list[str]:
    files = (str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml"))
    return [sys.executable, "-m", "headlife", "review", *files, *options]


def _answers_as_json() -> None:
    subprocess.run(_review("--json"), check=True, capture_output=True)


def _plan_as_json() -> None:
    files = (str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml"))
    builds = ("--builds", str(DEMO / "builds.csv"))
    command = [sys.executable, "-m", "headlife", "plan", *files, *builds, "--json"]
    subprocess.run(command, check=True, capture_output=True)


def seconds_to_answer_and_page(page: Path) -> tuple[float, float]:
    """Wall seconds until the first answer stands in the terminal, and until the page is written."""
    begun, answered = time.perf_counter(), None
    with subprocess.Popen(_review("--out", str(page)), stdout=subprocess.PIPE, text=True) as run:
        for line in run.stdout or ():
            if answered is None and _FIRST_ANSWER in line:
                answered = time.perf_counter() - begun
    if run.returncode or answered is None:
        raise RuntimeError("headlife review did not come to its end")
    return answered, time.perf_counter() - begun


def measure(short: bool) -> Iterator[Measured]:
    """Measure the import, the answers and the page."""
    rounds = 3 if short else 7
    ours, nothing, numpy = medians(
        _python("import headlife"), _python("pass"), _python("import numpy"), rounds=rounds
    )
    yield Measured(
        "import headlife / import numpy, whole process", ours / numpy, "times", at_most(1)
    )
    yield Measured("import headlife beyond a bare interpreter", ours - nothing, "s", at_most(0.6))
    base, as_json, plan = medians(
        _python("import pandas, scipy.stats"), _answers_as_json, _plan_as_json, rounds=rounds
    )
    with tempfile.TemporaryDirectory() as folder:
        waited = [seconds_to_answer_and_page(Path(folder) / "page.html") for _ in range(rounds)]
    answer, page = np.median(waited, axis=0)
    beside = "import pandas, scipy.stats"
    yield Measured(f"headlife review --json / {beside}", as_json / base, "times", at_most(2.5))
    yield Measured(
        f"headlife review, first answer / {beside}", answer / base, "times", at_most(2.5)
    )
    yield Measured(f"its page written / {beside}", page / base, "times", at_most(6))
    yield Measured(f"headlife plan --json / {beside}", plan / base, "times", at_most(2.5))
    yield Measured(beside, base, "s")
