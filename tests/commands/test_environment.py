"""A computer where little may be written, and variables that were meant for other programs."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from tests.show.conftest import DEMO

FILES = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]
NOWHERE = os.path.join(os.devnull, "none")
HOMELESS = {"HOME": NOWHERE, "XDG_CONFIG_HOME": NOWHERE, "XDG_CACHE_HOME": NOWHERE}
# A computer where no folder for temporary files can be written to.
NO_TEMPORARY = """
import sys, tempfile

def none():
    raise FileNotFoundError(2, "No usable temporary directory found")

tempfile._get_default_tempdir = none
from headlife.cli import main
sys.exit(main())
"""


def called(start, *arguments, **environment):
    return subprocess.run(
        [sys.executable, *start, *arguments],
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_without_a_folder_for_temporary_files_a_page_ends_in_a_sentence(tmp_path):
    page = tmp_path / "page.html"
    asked = ["vendor", *FILES, "--type", "Standard", "--out", str(page)]
    done = called(["-c", NO_TEMPORARY], *asked, **HOMELESS)
    assert done.returncode == 2
    assert done.stderr == (
        "headlife: no folder for temporary files can be written to, and a page needs one; name "
        "one that can, as TMPDIR=some/folder. Nothing was left half-written.\n"
    )
    assert not list(tmp_path.iterdir())


def test_a_workbook_needs_no_folder_for_temporary_files(tmp_path):
    """It went through a file in between: a full disk there was a traceback."""
    for name in ("due.xlsx", "again.xlsx"):
        asked = ["due", *FILES, "--xlsx", str(tmp_path / name)]
        start = ["-c", NO_TEMPORARY] if name == "due.xlsx" else ["-m", "headlife"]
        done = called(start, *asked)
        assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "due.xlsx").read_bytes() == (tmp_path / "again.xlsx").read_bytes()


@pytest.mark.parametrize(
    "environment",
    # Matplotlib stopped at the one, and remarked on the other in two lines.
    [{"MPLBACKEND": "nonsense"}, HOMELESS],
    ids=["a backend that is none", "no home"],
)
def test_a_page_is_drawn_whatever_other_programs_are_told(environment, tmp_path):
    page = tmp_path / "page.html"
    asked = ["vendor", *FILES, "--type", "Standard", "--out", str(page)]
    done = called(["-m", "headlife"], *asked, **environment)
    assert (done.returncode, done.stderr) == (0, "")
    assert "<svg" in page.read_text(encoding="utf-8")
