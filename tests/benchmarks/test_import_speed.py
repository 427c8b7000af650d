"""How long does ``import headlife`` take, beside an import of numpy alone?"""

from __future__ import annotations

import subprocess
import sys

import pytest
from tests.benchmarks.side_by_side import report

from studies.timing import medians

pytestmark = pytest.mark.xdist_group("benchmarks")


def run(code: str) -> None:
    subprocess.run([sys.executable, "-c", code], check=True)


def test_import_is_lighter_than_numpy():
    ours, nothing, numpy = medians(
        lambda: run("import headlife"), lambda: run("pass"), lambda: run("import numpy"), rounds=7
    )
    report("import headlife, seconds beyond a bare interpreter", ours - nothing, "<= 0.6")
    report("(import headlife) / (import numpy), whole process", ours / numpy, "<= 1")
    assert ours <= numpy
