"""What does an answer leave out, and because of what? Told beside it, as values.

Of records too large for one table. Words nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

What = Literal["single lives", "other heads", "circulation"]

SINGLE_LIVES: Final[What] = "single lives"
OTHER_HEADS: Final[What] = "other heads"
CIRCULATION: Final[What] = "circulation"


@dataclass(frozen=True)
class LeftOut:
    """One thing that an answer leaves out."""

    what: What
    """single lives: curves, plots, answers both ways and the forecast of a quarter ago; other
    heads: checks that compare rows of different heads; circulation: which head went in after
    which."""
    rows: int = 0
    """Rows on record from which it is left out [-]; 0 where that is not the cause."""
