from __future__ import annotations

import fcntl
import os
import pickle
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import hypothesis
import numpy as np
import pytest

import headlife as hl
from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life

# No example is judged by the time it takes: other work may keep every core busy.
hypothesis.settings.register_profile("headlife", deadline=None)
hypothesis.settings.load_profile("headlife")

DEMO = Path(__file__).parents[1] / "data_demo"


@pytest.fixture(scope="session")
def demo() -> Any:
    """The demo shop's records and review."""
    shop = hl.read_shop(DEMO / "shop.toml")
    records = hl.read_records(DEMO / "removals.csv", shop)
    return records, hl.quarterly_review(records, shop)


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Run a command that writes its page on the demo once, whichever test process asks first."""
    shared = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent

    def run(command: str, *more: str) -> tuple[subprocess.CompletedProcess[str], Path]:
        folder = shared / "written" / "".join([command, *more])
        folder.mkdir(parents=True, exist_ok=True)
        page, ended = folder / f"{command}.html", folder / "ended"
        with open(folder / "lock", "w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not ended.exists():
                for name in ("removals.csv", "shop.toml"):
                    shutil.copy(DEMO / name, folder)
                asked = ["removals.csv", "--shop", "shop.toml", "--out", page.name, *more]
                done = subprocess.run(
                    [sys.executable, "-m", "headlife.cli", command, *asked],
                    cwd=folder,
                    env=os.environ | {"PYTHONPATH": str(DEMO.parent / "analysis")},
                    capture_output=True,
                    text=True,
                )
                ended.write_bytes(pickle.dumps(done))
        done = pickle.loads(ended.read_bytes())
        assert done.returncode == 0, done.stderr
        return done, page

    return run


@pytest.fixture
def record() -> Callable[..., Life]:
    """Fit a simulated record: heads of a known Weibull life, watched to an age."""

    def simulate(
        heads: int, shape: float, scale: float, until: float, seed: int, **prior: Any
    ) -> Life:
        age = scale * np.random.default_rng(seed).weibull(shape, heads)
        return fit_life(
            Evidence.from_lives(0.0, np.minimum(age, until), age <= until, reference_hours=until),
            **prior,
        )

    return simulate
