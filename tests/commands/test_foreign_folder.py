"""Commands called from a folder full of other people's files run none of them and obey none."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from tests.show.conftest import DEMO

ANALYSIS = DEMO.parent / "analysis"
# Names that headlife, or what it stands on, imports; `typing` and `json` come with Python.
MODULES = ("pandas", "numpy", "scipy", "matplotlib", "pydantic", "typing", "json", "argparse")
MATPLOTLIBRC = "axes.facecolor: red\nfont.size: 30\nsvg.fonttype: none\nbackend: nonsense\n"
FILES = ("removals.csv", "--shop", "shop.toml")
ENTRY_POINT = "import sys; from headlife.cli import main; sys.exit(main())"


@pytest.fixture
def folder(tmp_path):
    """The demo's records with files beside them that leave a mark when they are run."""
    for name in ("removals.csv", "shop.toml"):
        shutil.copy(DEMO / name, tmp_path)
    for name in MODULES:
        spoiled = f"open({str(tmp_path / 'ran')!r}, 'a').write({name!r} + ' ')\n"
        (tmp_path / f"{name}.py").write_text(spoiled)
    (tmp_path / "matplotlibrc").write_text(MATPLOTLIBRC)
    return tmp_path


def entry_point(folder):
    """Write the script that an installation puts on the path."""
    script = folder.parent / f"{folder.name}-bin" / "headlife"
    script.parent.mkdir(exist_ok=True)
    script.write_text(ENTRY_POINT)
    return [sys.executable, str(script)]


def module(folder):
    return [sys.executable, "-m", "headlife"]


def called(folder, start, *arguments):
    return subprocess.run(
        [*start(folder), *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(ANALYSIS)},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("start", [entry_point, module])
def test_no_file_beside_the_records_is_run_or_obeyed(folder, tmp_path_factory, start, written):
    page = tmp_path_factory.mktemp("elsewhere") / "page.html"
    done = called(folder, start, "review", *FILES, "--out", str(page))
    assert (done.returncode, done.stderr) == (0, "")
    assert not (folder / "ran").exists()
    _, clean = written("review")
    assert page.read_bytes() == clean.read_bytes()


def test_workers_started_from_there_run_none_of_them_either(folder):
    done = called(folder, module, "backtest", *FILES, "--as-of", "2024-06-30", "--workers", "2")
    assert (done.returncode, done.stderr) == (0, "")
    assert not (folder / "ran").exists()


def test_the_packages_own_folder_still_works_as_a_place_to_call_from():
    done = subprocess.run(
        [sys.executable, "-m", "headlife", "--version"],
        cwd=Path(ANALYSIS),
        env={name: value for name, value in os.environ.items() if name != "PYTHONPATH"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0 and done.stdout.startswith("headlife ")
