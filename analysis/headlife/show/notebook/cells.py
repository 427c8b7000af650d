"""What a notebook's first cells need: its parameters, and word to the reader of how far it is.

Light on purpose: it runs in every kernel, so it imports nothing that reads or writes notebooks.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from headlife.progress import Progress


def parameters(**values: Any) -> SimpleNamespace:
    """Name a notebook's parameters and print the values in force.

    Used once, in the notebook's parameter cell; `execute` puts other values in its place.

    Parameters
    ----------
    **values : object
        The parameters by name, each with its standing value.

    Returns
    -------
    SimpleNamespace
        The values in force, as attributes.
    """
    for name, value in values.items():
        print(f"{name} = {value!r}")
    return SimpleNamespace(**values)


def progress_to_reader() -> Progress:
    """Give the kernel's side of a progress bar: one line that is rewritten in place."""
    from IPython.display import display

    handle: Any = None

    def report(step: str, done: int, total: int) -> None:
        nonlocal handle
        bundle = {"text/plain": f"{step} ({done} of {total})" if total else step}
        if handle is None:
            handle = display(bundle, raw=True, display_id=True)  # type: ignore[no-untyped-call]
        else:
            handle.update(bundle, raw=True)

    return report
