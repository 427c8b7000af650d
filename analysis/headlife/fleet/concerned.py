"""Which positions in service is a plan or an order book of the settings about?

From the printer, site or head type that it names; it is about all where it names none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.errors import DecisionError

if TYPE_CHECKING:
    import pandas as pd

_COLUMNS: Final = ("printer", "site", "head_type")


def concerned(positions: pd.DataFrame, what: str, stated: Any) -> Any:
    """Say which positions something stated is about.

    Parameters
    ----------
    positions : pandas.DataFrame
        One row per position with `printer, site` and `head_type`.
    what : str
        What was stated, with its name, for the sentence.
    stated : object
        A `Plan` or `Booking` of the settings; what it leaves open it is not about.

    Returns
    -------
    array of bool
        One per position.

    Raises
    ------
    DecisionError
        What it names is not in service.
    """
    mine = np.ones(len(positions), dtype=bool)
    for column in _COLUMNS:
        wanted = getattr(stated, column, None)
        if wanted is None:
            continue
        there = (positions[column] == wanted).to_numpy(dtype=bool)
        if not there.any():
            known = ", ".join(sorted(set(positions[column].dropna().astype(str)))) or "none"
            raise DecisionError(
                f"{what} is about the {column.replace('_', ' ')} '{wanted}', where no head is in "
                f"service; correct it (in service: {known})."
            )
        mine &= there
    return mine
