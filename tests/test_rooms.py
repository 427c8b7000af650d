"""Each room in a bare interpreter: what it loads, and what it must not."""

from __future__ import annotations

import subprocess
import sys

import pytest

# Slow to import, or belonging to the notebook side (show).
HEAVY = {"lifelines", "reliability", "scipy.stats", "matplotlib", "IPython"}
LEFT_TO_RIGHT = [
    "shop",
    "records",
    "life",
    "fleet",
    "futures",
    "decisions",
    "scale",
    "show",
    "commands",
]


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
    assert not modules & {f"headlife.{room}" for room in LEFT_TO_RIGHT}


EVERY_MODULE = """
import importlib, pkgutil
import headlife.{room} as room
for module in pkgutil.walk_packages(room.__path__, room.__name__ + "."):
    if not module.name.endswith("__main__"):
        importlib.import_module(module.name)
"""


@pytest.mark.parametrize("room", ["life", "fleet", "futures", "decisions"])
def test_a_room_of_numbers_loads_no_heavy_library(room):
    assert not loaded_by(EVERY_MODULE.format(room=room)) & HEAVY


@pytest.mark.parametrize("room", LEFT_TO_RIGHT)
def test_a_room_imports_only_rooms_to_its_left(room):
    modules = loaded_by(EVERY_MODULE.format(room=room))
    right = LEFT_TO_RIGHT[LEFT_TO_RIGHT.index(room) + 1 :]
    assert not {name for name in modules for r in right if name.startswith(f"headlife.{r}")}
