"""The fuzzing driver: it finds what is planted, keeps what is new, and the doors hold a while."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import HeadlifeError
from studies import fuzz


@pytest.fixture(scope="module")
def doors(tmp_path_factory):
    return fuzz.Doors(tmp_path_factory.mktemp("doors"))


@pytest.mark.parametrize("name", fuzz.NAMES)
def test_a_hundred_changed_files_are_met_with_an_answer_or_a_sentence(doors, name):
    rng = np.random.default_rng(5)
    seeds, ways = doors.seeds[name], set()
    for seed in seeds:
        assert fuzz.met(doors.knock[name], seed) == ("read", "")
    for _ in range(100 if name != "draft" else 30):  # which takes long
        data = fuzz.changed(rng, seeds[int(rng.integers(len(seeds)))], seeds[0], name == "workbook")
        way, fault = fuzz.met(doors.knock[name], data)
        assert not fault
        ways.add(way)
    assert len(ways) > 1 or name == "draft"  # which is made of almost anything


def test_a_fault_is_found_kept_and_ends_the_run(doors, tmp_path):
    def careless(data):
        if b"2126" in data:
            raise ZeroDivisionError
        raise HeadlifeError(f"Row {len(data)}: it is no log.")

    doors.knock["planted"], doors.seeds["planted"] = careless, [b"2025-01-01,100\n"]
    found = list(fuzz.run("planted", doors, tmp_path, 20.0, seed=1))
    assert len(found) == 1
    assert "ZeroDivisionError" in found[0]
    (kept,) = (tmp_path / "faults").iterdir()
    assert b"2126" in kept.read_bytes()


def test_what_is_met_in_a_new_way_is_kept_for_later_runs(doors, tmp_path):
    def read(data):
        raise HeadlifeError("It is empty." if not data.strip() else f"Row {len(data)}: no log.")

    doors.knock["new"], doors.seeds["new"] = read, [b"a,b\n"]
    assert not list(fuzz.run("new", doors, tmp_path, 1.0, seed=2))
    # Two ways in all, one of them the seed's, whatever the numbers in the sentence.
    (kept,) = (tmp_path / "new").iterdir()
    assert not kept.read_bytes().strip()
