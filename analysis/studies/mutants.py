"""Would the tests notice? Small faults are put into a module, one by one, and its tests are run.

A comparison is moved or turned, a sum becomes a difference, a number or a default another one, a
condition its opposite, a line is left out. Whoever survives stands where no test looks. Texts and
annotations are left as they are.

The tests are collected once. For each fault a copy of the process (fork) swaps the code of the
functions concerned for the faulty one and runs the tests that pass through its line, the quickest
first, until one fails. Nothing is written into the source.

    python -m studies.mutants
    python -m studies.mutants records/chains life/evidence --most 200
    python -m studies.mutants decisions/rating --only 131 --tests tests/decisions

It prints the survivors and what share was killed; it asserts nothing.
"""

from __future__ import annotations

import argparse
import ast
import copy
import functools
import importlib
import json
import math
import os
import resource
import signal
import sys
import tempfile
import time
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from _pytest.runner import runtestprotocol

ROOT: Final = Path(__file__).parents[2]
PACKAGE: Final = Path(__file__).parents[1] / "headlife"
_EVIDENCE: Final = (
    *("tests/life/test_evidence.py", "tests/life/test_bad_lives.py"),
    *("tests/life/test_possible.py", "tests/life/test_exposure_curve.py"),
)
_TOLD: Final = (
    *("tests/life/test_rounded.py", "tests/scale/test_rounding.py"),
    "tests/scale/test_site_evidence.py",
)
_POSTERIOR: Final = (
    *("tests/life/test_posterior.py", "tests/life/test_prior.py", "tests/life/test_mixture.py"),
    *("tests/life/test_bad_lives.py", "tests/life/test_strata.py", "tests/life/test_many.py"),
    *("tests/life/test_intervals.py", "tests/life/test_likelihood.py"),
)
# Module -> its tests. What was once one module and is now several stands as all of them.
TARGETS: Final[dict[str, tuple[str, ...]]] = {
    "records/chains": (
        *("tests/records/test_lives.py", "tests/records/test_bad_logs.py"),
        *("tests/records/test_audit.py", "tests/records/test_plain_reading.py"),
        *("tests/records/test_chains.py", "tests/records/test_of_the_head.py"),
    ),
    "life/evidence": _EVIDENCE,
    "life/checked_lives": _EVIDENCE,
    "life/exposure_curve": (*_EVIDENCE, "tests/life/test_strata.py"),
    "life/possible": (*_EVIDENCE, "tests/scale/test_forged_sites.py"),
    "life/rounded": _TOLD,
    "life/also_possible": ("tests/life/test_also_possible.py",),
    "scale/rounding": _TOLD,
    "life/posterior": _POSTERIOR,
    "life/inference": _POSTERIOR,
    "life/mixture": _POSTERIOR,
    "life/likelihood_ratio": _POSTERIOR,
    "life/asked": _POSTERIOR,
    "decisions/spares/stock": (
        *("tests/decisions/test_stock.py", "tests/futures/test_life_uncertainty.py"),
    ),
    "decisions/rating": ("tests/decisions/test_rating.py", "tests/life/test_many.py"),
    "decisions/looks": ("tests/decisions/test_looks.py",),
    "decisions/boundaries": ("tests/decisions/test_boundaries.py", "tests/decisions/test_looks.py"),
}
_SPECIAL: Final = ("__init__", "__add__", "__post_init__", "__call__", "__len__")
_BYTES: Final = 4 * 2**30  # address space of a process with a fault
_COMPARED: Final[dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_COUNTED: Final[dict[type[ast.operator], type[ast.operator]]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_OTHER_NAME: Final = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "minimum": "maximum",
    "maximum": "minimum",
    "floor": "ceil",
    "ceil": "floor",
}


@dataclass(frozen=True)
class Mutant:
    """A module with one fault."""

    line: int
    """Line of the fault."""
    says: str
    """The code before and after."""
    code: types.CodeType
    """The module compiled."""


def mutants(source: str, name: str) -> Iterator[Mutant]:
    """Put every small fault into a module, one at a time.

    Parameters
    ----------
    source : str
        The module's text.
    name : str
        Its file.

    Yields
    ------
    Mutant
        One fault each, in the order of the lines.
    """
    tree = ast.parse(source)
    alone = _in_annotations(tree)
    for place, node in enumerate(ast.walk(tree)):
        for other in _faults(node) if id(node) not in alone else ():
            changed = copy.deepcopy(tree)
            target = next(one for k, one in enumerate(ast.walk(changed)) if k == place)
            before = ast.unparse(target)
            other(target)
            says = f"{before.splitlines()[0][:70]}  ->  {_said(target)[:70]}"
            code = compile(ast.fix_missing_locations(changed), name, "exec")
            yield Mutant(getattr(node, "lineno", 1), says, code)


def _said(node: ast.AST) -> str:
    return ast.unparse(ast.fix_missing_locations(node)).splitlines()[0]


def _faults(node: ast.AST) -> Iterator[Callable[[Any], None]]:
    """Every way to spoil one node, in place."""
    for kinds, ways in _WAYS:
        if isinstance(node, kinds):
            yield from ways(node)


def _of_comparison(node: ast.Compare) -> Iterator[Callable[[Any], None]]:
    for at, op in enumerate(node.ops):
        for new in _COMPARED[type(op)]:
            yield functools.partial(_set, at=at, new=new())


def _of_sum(node: ast.BinOp | ast.AugAssign) -> Iterator[Callable[[Any], None]]:
    if type(node.op) in _COUNTED and not _holds_text(node):
        yield lambda one: setattr(one, "op", _COUNTED[type(one.op)]())


def _of_and(node: ast.BoolOp) -> Iterator[Callable[[Any], None]]:
    other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    yield lambda one: setattr(one, "op", other)


def _of_condition(node: ast.If | ast.IfExp | ast.While) -> Iterator[Callable[[Any], None]]:
    if not isinstance(node.test, ast.Compare | ast.UnaryOp):
        yield _turn_condition


def _of_name(node: ast.Name | ast.Attribute) -> Iterator[Callable[[Any], None]]:
    field = "id" if isinstance(node, ast.Name) else "attr"
    if getattr(node, field) in _OTHER_NAME:
        yield lambda one: setattr(one, field, _OTHER_NAME[getattr(one, field)])


def _of_call(node: ast.Expr) -> Iterator[Callable[[Any], None]]:
    if isinstance(node.value, ast.Call | ast.Yield | ast.YieldFrom):
        yield _become(ast.Pass)


def _set(node: ast.Compare, at: int, new: ast.cmpop) -> None:
    node.ops[at] = new


def _turn_condition(node: Any) -> None:
    node.test = ast.UnaryOp(ast.Not(), node.test)


def _become(kind: type[ast.stmt]) -> Callable[[Any], None]:
    def change(node: Any) -> None:
        node.__class__ = kind
        for name in ("exc", "cause", "value"):
            node.__dict__.pop(name, None)

    return change


def _without_sign(node: Any) -> None:
    # A condition that is turned is its double negation; a number its own.
    if isinstance(node.op, ast.Not):
        node.operand = ast.UnaryOp(ast.Not(), node.operand)
    else:
        node.op = ast.UAdd()


def _holds_text(node: ast.BinOp | ast.AugAssign) -> bool:
    return any(isinstance(one, ast.JoinedStr) for one in ast.walk(node))


def _other_constants(node: ast.Constant) -> Iterator[Callable[[Any], None]]:
    value = node.value
    if isinstance(value, bool):
        yield lambda one: setattr(one, "value", not one.value)
    elif isinstance(value, int):
        yield lambda one: setattr(one, "value", one.value + 1)
    elif isinstance(value, float):
        yield lambda one: setattr(one, "value", one.value * 1.25 + (0.25 if not one.value else 0.0))


def _in_annotations(tree: ast.AST) -> set[int]:
    """Nodes of annotations, by identity: they do not run."""
    found: set[int] = set()
    for node in ast.walk(tree):
        for field in ("annotation", "returns"):
            if (written := getattr(node, field, None)) is not None:
                found |= {id(one) for one in ast.walk(written)}
    return found


_WAYS: Final[tuple[tuple[Any, Callable[[Any], Iterator[Callable[[Any], None]]]], ...]] = (
    (ast.Compare, _of_comparison),
    (ast.BinOp | ast.AugAssign, _of_sum),
    (ast.BoolOp, _of_and),
    (ast.UnaryOp, lambda _: iter((_without_sign,))),
    (ast.Constant, _other_constants),
    (ast.Continue, lambda _: iter((_become(ast.Break),))),
    (ast.If | ast.IfExp | ast.While, _of_condition),
    (ast.Name | ast.Attribute, _of_name),
    (ast.Raise, lambda _: iter((_become(ast.Pass),))),
    (ast.Expr, _of_call),
)


def infect(module: types.ModuleType, code: types.CodeType) -> int:
    """Swap the code of a loaded module for another one's, wherever it is used.

    Parameters
    ----------
    module : module
        Loaded, its functions known to others by name.
    code : code
        The module compiled with a fault.

    Returns
    -------
    int
        How many functions and values are others now.
    """
    faulty = types.ModuleType(module.__name__)
    faulty.__dict__.update({"__file__": module.__file__, "__package__": module.__package__})
    exec(code, faulty.__dict__)
    return _swapped(module.__dict__, faulty.__dict__, module.__name__)


def _swapped(old: Any, new: Any, owner: str) -> int:
    count = 0
    for name, one in list(old.items()):
        other = new.get(name)
        if name.startswith("__") and name not in _SPECIAL:
            continue
        if isinstance(one, type) and isinstance(other, type) and one.__module__ == owner:
            count += _swapped(vars(one), vars(other), owner)
        elif (function := _function(one)) is not None and _function(other) is not None:
            count += function.__module__ == owner and _take_over(function, _function(other))
        elif isinstance(old, dict) and _differs(one, other):
            count += _replaced(name, one, other)
    return count


def _function(one: Any) -> Any:
    for inner in ("fget", "func", "__func__"):
        one = getattr(one, inner, one)
    while hasattr(one, "__wrapped__"):
        one = one.__wrapped__
    return one if isinstance(one, types.FunctionType) else None


def _take_over(function: Any, other: Any) -> bool:
    changed = False
    for name in ("__code__", "__defaults__", "__kwdefaults__"):
        if getattr(function, name) != getattr(other, name):
            setattr(function, name, getattr(other, name))
            changed = True
    return changed


def _differs(one: Any, other: Any) -> bool:
    plain = (bool, int, float, tuple, np.ndarray, dict)
    return isinstance(one, plain) and isinstance(other, plain) and repr(one) != repr(other)


def _replaced(name: str, one: Any, other: Any) -> int:
    count = 0
    for module in list(sys.modules.values()):
        if getattr(module, "__dict__", {}).get(name) is one:
            setattr(module, name, other)
            count += 1
    return count


def forget() -> None:
    """Empty the caches of our modules: what they hold was worked out by the code of before."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] == "headlife":
            for one in list(vars(module).values()):
                if hasattr(one, "cache_clear"):
                    one.cache_clear()


class Session:
    """Tests that are collected once and run many times, each time in a process of its own."""

    def __init__(self, target: str, only: Sequence[int], most: int, seed: int) -> None:
        self.path = PACKAGE / f"{target}.py"
        self.module = "headlife." + target.replace("/", ".")
        self.only, self.most, self.seed = set(only), most, seed
        self.killed, self.survived, self.unreached = 0, list[Mutant](), list[Mutant]()

    def pytest_collection(self) -> None:
        """Before tests are collected: a failing example need not be made simple."""
        import hypothesis  # pytest wants to be first

        phases = (hypothesis.Phase.explicit, hypothesis.Phase.generate)
        hypothesis.settings.register_profile("mutants", phases=phases, deadline=None)
        hypothesis.settings.load_profile("mutants")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Take the place of pytest's own loop."""
        lines_of = _in_a_copy(lambda: self._traced(session.items), patience=900)
        if isinstance(lines_of, str):
            raise pytest.UsageError(f"The tests do not pass without a fault: {lines_of}")
        source = self.path.read_text()
        every = list(mutants(source, str(self.path)))
        if self.only:
            every = [one for one in every if one.line in self.only]
        if len(every) > self.most:
            rng = np.random.default_rng(self.seed)
            every = [every[k] for k in sorted(rng.choice(len(every), self.most, replace=False))]
        at_import = _lines_at_import(source)
        for mutant in sorted(every, key=lambda one: one.line):
            chosen = [
                (seconds, item)
                for item, (seconds, lines) in zip(session.items, lines_of, strict=True)
                if mutant.line in lines or mutant.line in at_import
            ]
            self._judge(mutant, [one for one in sorted(chosen, key=lambda one: one[0])])
        return True

    def _traced(self, items: Sequence[pytest.Item]) -> list[tuple[float, list[int]]]:
        """Seconds and lines of the module that each test runs."""
        told = []
        for at, item in enumerate(items):
            lines: set[int] = set()
            forget()
            sys.settrace(_tracer(str(self.path), lines))
            begun = time.perf_counter()
            passed = _passes(item, items[at + 1] if at + 1 < len(items) else None)
            sys.settrace(None)
            if not passed:
                raise RuntimeError(item.nodeid)
            told.append((time.perf_counter() - begun, sorted(lines)))
        return told

    def _judge(self, mutant: Mutant, tests: Sequence[tuple[float, pytest.Item]]) -> None:
        patience = math.ceil(15 + 5 * sum(seconds for seconds, _ in tests))

        def run() -> bool:
            if not infect(importlib.import_module(self.module), mutant.code):
                raise LookupError("nothing changed")
            forget()
            items = [item for _, item in tests]
            following = [*items[1:], None]
            return all(map(_passes, items, following))

        answer = _in_a_copy(run, patience)
        if answer == "LookupError('nothing changed')":
            self.unreached.append(mutant)
        elif answer is True:
            self.survived.append(mutant)
            print(f"  {self.path.name}:{mutant.line}  {mutant.says}", flush=True)
        else:
            self.killed += 1


def _lines_at_import(source: str) -> set[int]:
    """Lines that run when a module is imported: all but the bodies of functions."""
    tree = ast.parse(source)
    inside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            inside |= set(range(node.body[0].lineno, (node.end_lineno or node.lineno) + 1))
    return set(range(1, len(source.splitlines()) + 1)) - inside


def _tracer(path: str, lines: set[int]) -> Any:
    def local(frame: types.FrameType, event: str, _: Any) -> Any:
        lines.add(frame.f_lineno)
        return local

    def calls(frame: types.FrameType, event: str, arg: Any) -> Any:
        if frame.f_code.co_filename != path:
            return None
        return local(frame, event, arg)

    return calls


def _passes(item: pytest.Item, following: pytest.Item | None) -> bool:
    return not any(report.failed for report in runtestprotocol(item, False, following))


def _in_a_copy(work: Callable[[], Any], patience: float) -> Any:
    """Run something in a fork; its answer, or a text that says how it ended."""
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "answer"
        child = os.fork()
        if not child:
            _work_and_leave(work, answer, patience)
        os.waitpid(child, 0)
        return json.loads(answer.read_text()) if answer.exists() else "stopped"


def _work_and_leave(work: Callable[[], Any], answer: Path, patience: float) -> None:
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    os.setpgid(0, 0)
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.alarm(math.ceil(patience))
    resource.setrlimit(resource.RLIMIT_AS, (_BYTES, resource.RLIM_INFINITY))
    try:
        told = work()
    except BaseException as fault:  # a fault that shows at once is noticed as well
        told = repr(fault)
    answer.write_text(json.dumps(told))
    os._exit(0)


def main(arguments: Sequence[str] | None = None) -> int:
    """Put faults into modules and count those that tests notice.

    Parameters
    ----------
    arguments : sequence of str, optional
        Of the command line.

    Returns
    -------
    int
        Exit code: 0.
    """
    parser = argparse.ArgumentParser(prog="python -m studies.mutants", description=__doc__)
    parser.add_argument("targets", nargs="*", default=list(TARGETS), help="modules, as life/prior")
    parser.add_argument("--tests", nargs="+", help="test files, where not those known here")
    parser.add_argument("--most", type=int, default=10_000, help="faults of each, at random")
    parser.add_argument("--only", type=int, nargs="+", default=[], help="lines to put faults into")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args(arguments)
    os.chdir(ROOT)
    if len(args.targets) > 1:
        # A process for each: what one has collected is no concern of the next.
        rest = sys.argv[1:] if arguments is None else list(arguments)
        options = [one for one in rest if one not in args.targets]
        for target in args.targets:
            os.spawnv(
                os.P_WAIT,
                sys.executable,
                [sys.executable, "-m", "studies.mutants", target, *options],
            )
        return 0
    target = args.targets[0]
    tests = [one for one in args.tests or TARGETS[target] if Path(one).exists()]
    with tempfile.TemporaryDirectory() as kept:
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = kept
        session = Session(target, args.only, args.most, args.seed)
        print(f"{target}: {' '.join(tests)}", flush=True)
        quiet = ["-q", "-n", "0", "-p", "no:cacheprovider", "--no-header", "--no-summary"]
        pytest.main([*tests, *quiet], plugins=[session])
    tried = session.killed + len(session.survived)
    for one in session.unreached:
        print(f"  not tried, since nothing that is loaded changed: {one.line}  {one.says}")
    print(f"{target}: {session.killed} of {tried} killed ({session.killed / max(tried, 1):.1%})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
