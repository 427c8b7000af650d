"""How far has the work come? What every long step may be given to tell it to."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""Called with (step, done, total); total is 0 while it is not known."""
