"""What did the last full run of the studies of changing shops find? Kept beside what was asked.

The studies take an hour; this reads what they found (`measured.toml`: each figure with the day,
the seed, the shops it was counted over, and the command that counts it again). Computes nothing.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Final

import pandas as pd

PATH: Final = Path(__file__).with_name("measured.toml")
COLUMNS: Final = ("shops", "measure", "asked", "before", "now", "over", "seed", "day", "command")


def measured() -> pd.DataFrame:
    """Give the figures kept, one row each, with the columns `COLUMNS`."""
    with PATH.open("rb") as file:
        rows = tomllib.load(file)["figure"]
    return pd.DataFrame(rows, columns=list(COLUMNS))
