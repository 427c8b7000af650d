"""The faults study at small size: one kill, one full disk; and it sees what is half-written."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

from studies import faults

TASK = faults.TASKS[1]  # the quickest one


@pytest.fixture(scope="module")
def evidence(tmp_path_factory):
    return faults.whole(TASK, tmp_path_factory.mktemp("whole"))


def test_a_kill_and_a_full_disk_leave_nothing_half_written(evidence, tmp_path):
    wanted, seconds = evidence
    kill = faults.killed(np.random.default_rng(1), seconds)
    assert not faults.disturbed(TASK, tmp_path, wanted, kill)
    full = faults.full_after(100)
    assert not faults.disturbed(TASK, tmp_path, wanted, faults.undisturbed, full)


def test_what_is_half_written_is_seen(evidence, tmp_path, monkeypatch):
    wanted, _ = evidence
    (name,) = wanted
    careless = tmp_path / "headlife.py"
    careless.write_text(f"from pathlib import Path\nPath({name!r}).write_text('half')\n")
    folders = [str(tmp_path), *filter(None, sys.path)]
    monkeypatch.setenv("PYTHONPATH", ":".join(folders))
    said = faults.disturbed(TASK, Path(tmp_path), wanted, faults.undisturbed)
    assert said == f"{name} is half-written"
