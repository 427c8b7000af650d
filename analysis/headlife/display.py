"""How does a result show itself, at a prompt and in a notebook, without knowing words or figures?

Results are marked with `shows_itself`; what they show is looked up in the room `show` when it is
first asked for, so that no room of numbers imports it.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final, TypeVar

_LOOKS: Final = "headlife.show.results"

Result = TypeVar("Result", bound=type)


def shows_itself(result: Result) -> Result:
    """Mark a class whose results show themselves: a line at a prompt, more in a notebook.

    Parameters
    ----------
    result : type
        Its name must be one of `headlife.show.results`.

    Returns
    -------
    type
        The same class.
    """
    result.__repr__ = _line  # type: ignore[method-assign, assignment]
    result._repr_html_ = _markup  # type: ignore[attr-defined]
    return result


def _line(self: Any) -> str:
    return str(import_module(_LOOKS).line(self))


def _markup(self: Any) -> str:
    return str(import_module(_LOOKS).markup(self))
