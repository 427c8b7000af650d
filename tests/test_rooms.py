"""The rooms: what each loads, what stands between them, and that nothing is without its test."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "analysis" / "headlife"
ROOMS = sorted(path.parent.name for path in PACKAGE.glob("*/__init__.py"))
# Slow to import, or belonging to the notebook side (show).
HEAVY = {"lifelines", "reliability", "scipy.stats", "matplotlib", "IPython"}


def loaded_by(code: str) -> set[str]:
    """Names of all modules loaded after running ``code`` in a fresh interpreter."""
    script = f"import sys\n{code}\nprint('\\n'.join(sys.modules))"
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=True
    )
    return set(run.stdout.split())


def test_import_of_the_package_loads_no_heavy_library_and_no_room():
    modules = loaded_by("import headlife")
    assert not modules & HEAVY
    assert not modules & {f"headlife.{room}" for room in ROOMS}


EVERY_MODULE = """
import importlib, pkgutil
import headlife.{room} as room
for module in pkgutil.walk_packages(room.__path__, room.__name__ + "."):
    importlib.import_module(module.name)
"""


@pytest.mark.parametrize("room", ["life", "fleet", "futures", "decisions"])
def test_a_room_of_numbers_loads_no_heavy_library(room):
    assert not loaded_by(EVERY_MODULE.format(room=room)) & HEAVY


def contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    """Judge the package in a folder by the contracts in its pyproject.toml."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"]
    return subprocess.run(
        [*command, "--no-cache"],
        cwd=folder / "analysis",
        env={"PYTHONPATH": str(folder / "analysis"), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("life/weibull.py", "def _late():\n    from headlife.decisions import rating\n"),
        ("decisions/spares/stock.py", "from headlife.decisions.policy import costs\n"),
        ("futures/draws.py", "def _late():\n    import IPython\n"),
        ("show/plain.py", "import scipy.stats\n"),
    ],
)
def test_a_forbidden_import_breaks_a_contract_even_inside_a_function(tmp_path, module, line):
    shutil.copytree(ROOT / "analysis", tmp_path / "analysis")
    shutil.copy(ROOT / "pyproject.toml", tmp_path / "analysis")
    path = tmp_path / "analysis" / "headlife" / module
    kept = contracts(tmp_path)
    assert kept.returncode == 0, kept.stdout + kept.stderr
    path.write_text(path.read_text() + "\n\n" + line)
    broken = contracts(tmp_path)
    assert broken.returncode == 1
    assert f"headlife.{module.removesuffix('.py').replace('/', '.')} -> " in broken.stdout


def test_no_room_but_the_commands_goes_through_the_front_door():
    # The front door imports rooms by name when asked, which no contract sees.
    taken = re.compile(r"^ *(?:import headlife(?: as \w+)?|from headlife import (.*))$", re.M)
    for path in PACKAGE.rglob("*.py"):
        if path.relative_to(PACKAGE).parts[0] != "commands":
            assert set(taken.findall(path.read_text(encoding="utf-8"))) <= {"__version__"}, path


def test_the_developers_page_names_every_room():
    tree = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
    named = re.findall(r"^ +([a-z_]+)/ ", tree, re.M)
    inner = {path.parent.name for path in PACKAGE.glob("*/*/__init__.py")}
    assert set(named) >= {*ROOMS, *inner} - {"answers"}
    assert set(named) <= {*ROOMS, *inner, "studies", "validation", "bench"}


def test_no_test_judges_time_or_memory():
    clocks = r"perf_counter|process_time|getrusage|tracemalloc|timeit|" + "medians"
    for path in (ROOT / "tests").rglob("*.py"):
        if path != Path(__file__):
            assert not re.search(clocks, path.read_text(encoding="utf-8")), path
