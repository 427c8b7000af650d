"""Does every public name of the rooms say what it takes, gives and refuses? By numpydoc's rules.

From the package itself; finds every public function and method with arguments and what its
docstring leaves out. `conf.py` makes each a warning of the build, `tests/test_docs.py` a failure.
"""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import re
import textwrap
from collections.abc import Iterator
from typing import Any, Final

from numpydoc.validate import validate

import headlife

# Sections that must be there, and whole: numpydoc's error codes.
CHECKS: Final = {
    "GL08": "no docstring",
    "SS01": "no summary",
    "PR01": "a parameter is not described",
    "PR02": "a parameter is described that is not there",
    "PR03": "parameters in another order",
    "PR04": "a parameter without its type",
    "PR07": "a parameter without a description",
    "RT01": "what it returns is not said",
    "RT03": "a return without a description",
    "YD01": "what it yields is not said",
}


def public_names() -> Iterator[tuple[str, Any]]:
    """Every public function, class and method that is defined in the package.

    Yields
    ------
    str
        Its full name.
    object
        The function, class or method itself.
    """
    for found in pkgutil.walk_packages(headlife.__path__, "headlife."):
        if found.name.endswith("__main__"):
            continue
        module = importlib.import_module(found.name)
        for name, thing in vars(module).items():
            own = getattr(thing, "__module__", None) == module.__name__
            if name.startswith("_") or not own or not callable(thing):
                continue
            yield f"{found.name}.{name}", thing
            if inspect.isclass(thing):
                for part, method in vars(thing).items():
                    plain = getattr(method, "__func__", method)
                    # Names that begin with model_ are pydantic's own.
                    if not part.startswith(("_", "model_")) and inspect.isfunction(plain):
                        yield f"{found.name}.{name}.{part}", plain


def faults(name: str, thing: Any) -> list[str]:
    """List what the docstring of a function or method leaves out.

    One without arguments may, and one that fills in a protocol's method and says "As in `...`".

    Parameters
    ----------
    name : str
        Its full name.
    thing : function
        The function itself.

    Returns
    -------
    list of str
        One sentence for each fault.
    """
    if not inspect.isfunction(thing):
        return fields_without_words(name, thing)
    told_elsewhere = (inspect.getdoc(thing) or "").startswith("As in `")
    if told_elsewhere or not set(inspect.signature(thing).parameters) - {"self", "cls"}:
        return []
    found = validate(name)["errors"]
    # A group "As for `...`" stands where the reader looks for it, whatever the order.
    order = "PR03" if "As for `" in (inspect.getdoc(thing) or "") else ""
    return [f"{name}: {told}" for code, told in found if code in CHECKS and code != order]


def fields_without_words(name: str, thing: Any) -> list[str]:
    """Fields of a frozen dataclass that no docstring follows.

    Parameters
    ----------
    name : str
        Its full name.
    thing : object
        Anything; only dataclasses are looked at.

    Returns
    -------
    list of str
        One sentence for each field.
    """
    if not (inspect.isclass(thing) and dataclasses.is_dataclass(thing)):
        return []
    body = ast.parse(textwrap.dedent(inspect.getsource(thing))).body[0].body
    listed = inspect.getdoc(thing) or ""
    bare = []
    for field, following in zip(body, [*body[1:], None], strict=True):
        if not isinstance(field, ast.AnnAssign) or field.target.id.startswith("_"):
            continue
        told = isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant)
        if not told and not re.search(rf"^(\w+, )*{field.target.id}(, \w+)*$", listed, re.M):
            bare.append(f"{name}.{field.target.id}: a field without its docstring")
    return bare
