"""The faults study at small size: one kill, one full disk; and it sees what is half-written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from studies import faults

TASK = faults.TASKS[1]  # the quickest one


@pytest.fixture(scope="module")
def evidence(tmp_path_factory):
    return faults.whole(TASK, tmp_path_factory.mktemp("whole"))


def test_kills_and_full_disks_leave_nothing_half_written(evidence, tmp_path):
    wanted, seconds = evidence
    rng = np.random.default_rng(1)
    own = faults.prepared(tmp_path)
    for _ in range(3):
        assert not faults.disturbed(TASK, own, wanted, faults.killed(rng, seconds))
    full = faults.full_after(100)
    assert not faults.disturbed(TASK, own, wanted, faults.undisturbed, full)
    assert (own / TASK.outputs[0]).read_bytes() == faults.OLD
    assert not faults.run_again(TASK, own, wanted)


def test_what_is_half_written_or_left_behind_is_seen(evidence, tmp_path, monkeypatch):
    wanted, _ = evidence
    (name,) = wanted
    own = faults.prepared(tmp_path)

    def careless(_):
        Path(name).write_text("half")
        Path("left.tmp").write_text("")
        return 0

    monkeypatch.setattr(faults, "main_of_headlife", careless)
    said = faults.disturbed(TASK, own, wanted, faults.undisturbed)
    assert said == f"{name} is half-written"
    assert faults.run_again(TASK, own, wanted) == "run again, it gives other bytes"
    wanted = {name: b"half"}
    assert faults.run_again(TASK, own, wanted) == "left behind: left.tmp"
