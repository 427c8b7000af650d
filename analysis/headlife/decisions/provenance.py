"""What was an answer made from? The shop, the day, both files, seed and version.

From a case; enough to make the same answer again. Looks at no life.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from headlife import __version__

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case


@dataclass(frozen=True)
class Provenance:
    """What an answer was made from; the first fields of every answer that is shown."""

    shop_name: str
    """Name of the shop."""
    as_of: pd.Timestamp
    """Day on which the records are looked at."""
    source: str
    """Name of the records file."""
    records_sha256: str
    """SHA-256 of the records file."""
    shop_sha256: str
    """SHA-256 of the settings file."""
    seed: int
    """Seed of the random numbers."""
    version: str
    """Version of headlife."""
    rows_read: int
    """Rows in the records [-]."""
    rows_accepted: int
    """Rows used [-]."""


def provenance(case: Case) -> Provenance:
    """Say what an answer from this case is made from."""
    records = case.records
    return Provenance(
        shop_name=case.shop.name,
        as_of=case.day,
        source=records.source,
        records_sha256=records.sha256,
        shop_sha256=case.shop.sha256,
        seed=case.seed,
        version=__version__,
        rows_read=records.rows_read,
        rows_accepted=len(records.accepted),
    )
