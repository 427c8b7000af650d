"""How does a file appear whole or not at all?

From bytes: written beside its place, then renamed into it, so that a half-written file is never
seen and a file that was there stays until the new one is complete. Says nothing to anyone; who
asked words the mistake.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Final

SHARED: Final = 0o644  # everyone reads, the owner writes


def put_in_place(path: Path, data: bytes, mode: int = SHARED) -> None:
    """Write a file in one step.

    Parameters
    ----------
    path : Path
        Where.
    data : bytes
        All of it.
    mode : int
        Who may read it: a temporary file is private, a finished one is to be shared.

    Raises
    ------
    OSError
        The file cannot be written there; nothing is left behind.
    """
    handle, beside = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
        os.chmod(beside, mode)
        os.replace(beside, path)
    finally:
        Path(beside).unlink(missing_ok=True)
