"""Run a notebook from top to bottom in a kernel of its own, with parameters that are checked.

From a notebook file and values for its parameter cell; gives back the executed notebook. An
unknown parameter is refused, a user's mistake inside the notebook comes out as the one sentence
it is, and nothing is written. The kernel works in an empty folder of its own and imports nothing
from the folder it was called from, so that no file lying there is taken for a module.
"""

from __future__ import annotations

import ast
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import headlife.errors
from headlife.errors import HeadlifeError


@contextmanager
def _absent(name: str) -> Iterator[None]:
    """Let an optional module look as if it were not installed."""
    found = sys.modules.get(name)
    sys.modules[name] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[name]
        if found is not None:
            sys.modules[name] = found


# jsonschema would build a grammar of web addresses, two seconds long, that no notebook needs.
with _absent("rfc3987_syntax"):
    import nbformat
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
    from traitlets.config import Config


_TERMINAL_COLOUR: Final = re.compile("\x1b\\[[0-9;]*m")
TIMEOUT_SECONDS: Final = 600  # for one cell
PARAMETER_CALL: Final = "parameters"


class NotebookFailure(RuntimeError):
    """A notebook stopped for a reason that is headlife's fault or the machine's, not the user's."""


def _with_parameters(notebook: Any, given: Mapping[str, Any]) -> Any:
    """Put values into the cell that calls `parameters(name=value, ...)`; refuse an unknown name."""
    if not given:
        return notebook
    for cell, tree, call in _parameter_calls(notebook):
        _replace_arguments(call, given)
        cell.source = ast.unparse(tree)
        return notebook
    raise HeadlifeError(
        f"This notebook takes no parameters; got {', '.join(sorted(given))}. Leave them out."
    )


def _parameter_calls(notebook: Any) -> Iterator[tuple[Any, ast.Module, ast.Call]]:
    """Find the cell that calls `parameters`, its code, and the call in it."""
    for cell in notebook.cells:
        if cell.cell_type != "code" or f"{PARAMETER_CALL}(" not in cell.source:
            continue
        tree = ast.parse(cell.source)
        for call in ast.walk(tree):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == PARAMETER_CALL:
                yield cell, tree, call


def _whole_paths(notebook: Any, folder: Path) -> dict[str, str]:
    """Parameters that name a file, seen from the notebook's folder, as whole paths."""
    found = {}
    for _, _, call in _parameter_calls(notebook):
        for argument in call.keywords:
            value = getattr(argument.value, "value", None)
            if argument.arg and isinstance(value, str) and (folder / value).is_file():
                found[argument.arg] = str((folder / value).resolve())
    return found


def _replace_arguments(call: ast.Call, given: Mapping[str, Any]) -> None:
    known = {argument.arg: argument for argument in call.keywords if argument.arg}
    unknown = sorted(set(given) - set(known))
    if unknown:
        raise HeadlifeError(
            f"The notebook has no parameter {', '.join(repr(name) for name in unknown)}; "
            f"it has {', '.join(known)}."
        )
    for name, value in given.items():
        known[name].value = ast.Constant(value)


class _OwnPython(KernelSpecManager):
    """Starts the kernel with the Python that runs headlife, whatever kernels the user has."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        return KernelSpec(
            argv=[
                sys.executable,
                "-P",
                "-m",
                "ipykernel_launcher",
                "-f",
                "{connection_file}",
                "--IPKernelApp.ignore_cwd=True",
            ],
            display_name=kernel_name,
            language="python",
        )


def execute(
    path: Path,
    given: Mapping[str, Any] | None = None,
    *,
    timeout: int = TIMEOUT_SECONDS,
) -> Any:
    """Execute a notebook and return it with its outputs.

    Parameters
    ----------
    path : Path
        The notebook; read, never written.
    given : mapping, optional
        Values for its parameter cell. A value that stands there and names a file, seen from the
        notebook's folder, goes on naming it.
    timeout : int
        Longest a cell may take [s].

    Returns
    -------
    NotebookNode
        The notebook with its outputs.

    Raises
    ------
    HeadlifeError
        A mistake the user can mend, in the notebook's own sentence.
    NotebookFailure
        Anything else that stopped it.
    """
    notebook = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    _with_parameters(notebook, _whole_paths(notebook, path.resolve().parent) | dict(given or {}))
    with tempfile.TemporaryDirectory(prefix="headlife-") as scratch:
        settings = Config()
        if sys.platform != "win32":
            # No port to race for, and no warning about an open one.
            settings.KernelManager.transport = "ipc"
        manager = AsyncKernelManager(
            config=settings,
            kernel_spec_manager=_OwnPython(),
            connection_file=str(Path(scratch) / "kernel.json"),
        )
        work = Path(scratch) / "work"
        work.mkdir()
        client = NotebookClient(
            notebook,
            km=manager,
            timeout=timeout,
            record_timing=False,
            resources={"metadata": {"path": str(work)}},
        )
        client.owns_km = True  # so that it ends the kernel it starts, after an error too
        try:
            client.execute(env=_kernel_environment(scratch))
        except CellExecutionError as stopped:
            raise _as_sentence(stopped, path.name) from None
        except CellTimeoutError:
            raise NotebookFailure(
                f"{path.name} took longer than {timeout} s in one cell and was stopped."
            ) from None
        except DeadKernelError:
            raise NotebookFailure(
                f"The Python process that ran {path.name} ended by itself; most often the computer "
                "ran out of memory."
            ) from None
    return notebook


def _kernel_environment(scratch: str) -> dict[str, str]:
    """Give the kernel the same packages as here and none of the user's start-up files."""
    own = str(Path(headlife.__file__).resolve().parents[1])
    path = os.environ.get("PYTHONPATH")
    return {
        **os.environ,
        "IPYTHONDIR": scratch,
        "PYTHONPATH": os.pathsep.join([own, path] if path else [own]),
        "MPLBACKEND": "agg",
    }


def _as_sentence(stopped: CellExecutionError, name: str) -> Exception:
    kind = getattr(headlife.errors, str(stopped.ename), None)
    if isinstance(kind, type) and issubclass(kind, HeadlifeError):
        return kind(stopped.evalue)
    plain = _TERMINAL_COLOUR.sub("", str(stopped))
    return NotebookFailure(f"{name} stopped with an error:\n{plain}")
