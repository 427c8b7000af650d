"""Every name of the front door shows an example in its docstring, and the example runs."""

from __future__ import annotations

import doctest
import inspect
from pathlib import Path

import pytest

import headlife as hl

ROOT = Path(__file__).parents[1]
NAMES = [name for name in hl.__all__ if name != "__version__"]


@pytest.mark.parametrize("name", NAMES)
def test_the_example_of_a_front_door_name_runs(name, monkeypatch):
    monkeypatch.chdir(ROOT)  # examples read the demo
    told = inspect.getdoc(getattr(hl, name)) or ""
    example = doctest.DocTestParser().get_doctest(told, {}, name, None, None)
    assert "\nExamples\n--------\n" in told and example.examples
    assert any(f"hl.{name}" in one.source for one in example.examples), "it shows the name itself"
    found: list[str] = []
    runner = doctest.DocTestRunner(verbose=False)
    runner.run(example, out=found.append)
    assert not found, "".join(found)


def test_an_example_gives_what_it_says(monkeypatch):
    # The check itself: a wrong answer is found.
    wrong = doctest.DocTestParser().get_doctest(">>> 1 + 1\n3\n", {}, "wrong", None, None)
    assert doctest.DocTestRunner(verbose=False).run(wrong, out=lambda _: None).failed == 1
