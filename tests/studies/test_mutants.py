"""Faults put into a small module, and a loaded module infected with them."""

from __future__ import annotations

import sys
import types

import pytest

from headlife.life.exposure_curve import shape_nodes
from studies.mutants import PACKAGE, ROOT, TARGETS, forget, infect, mutants

SOURCE = """
LIMIT = 3

def inside(x: int | None, below: float = 2.0) -> bool:
    if not x:
        raise ValueError("x")
    return x < below and x != LIMIT

class Box:
    def __init__(self, size):
        self.size = size

    @property
    def half(self):
        return self.size / 2
"""


@pytest.fixture
def module(monkeypatch):
    one = types.ModuleType("a_module_with_faults")
    one.__file__ = "a_module.py"
    monkeypatch.setitem(sys.modules, one.__name__, one)
    exec(SOURCE, one.__dict__)
    return one


def test_faults_of_a_small_module():
    # By hand: 3 -> 4; 2.0 -> 2.5; the condition turned; no `raise`; `<` moved and turned;
    # `and` -> `or`; `!=` -> `==`; `/` -> `*`; 2 -> 3. Annotations stay.
    found = list(mutants(SOURCE, "a_module.py"))
    assert len(found) == 10
    assert [one.line for one in sorted(found, key=lambda one: one.line)] == [
        *(2, 4, 5, 6, 7, 7, 7, 7, 15, 15)
    ]
    assert len({(one.line, one.says) for one in found}) == 10


@pytest.mark.parametrize("before", ["LIMIT", "inside", "half"])
def test_a_loaded_module_is_infected_where_it_is_used(module, before):
    user = types.ModuleType("a_user_of_faults")
    user.LIMIT, user.inside, user.Box = module.LIMIT, module.inside, module.Box
    lines = {"LIMIT": 2, "inside": 6, "half": 15}
    one = next(one for one in mutants(SOURCE, "a_module.py") if one.line == lines[before])
    sys.modules[user.__name__] = user
    try:
        assert infect(module, one.code)
    finally:
        del sys.modules[user.__name__]
    limit = user.LIMIT
    assert limit == (4 if before == "LIMIT" else 3)
    assert user.Box(4).half == (8 if before == "half" else 2)
    if before == "inside":
        assert user.inside(0)
    else:
        with pytest.raises(ValueError, match="x"):
            user.inside(0)


def test_what_was_worked_out_before_a_fault_is_forgotten():
    # A cached answer of the sound code would hide the fault.
    shape_nodes()
    assert shape_nodes.cache_info().currsize
    forget()
    assert not shape_nodes.cache_info().currsize


def test_every_module_and_test_that_is_named_is_there():
    for module, tests in TARGETS.items():
        assert (PACKAGE / f"{module}.py").exists(), "it was split or moved: name what it became"
        assert all((ROOT / one).exists() for one in tests)
