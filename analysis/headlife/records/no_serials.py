"""Which head is this, in a log without serials? The one in that place, counted through.

From typed rows that name no head to rows with names such as "Otter left 3", the third head in that
place by the calendar: every head that goes in counts as another one, so one that goes in again is
taken for two. For stretches and work orders; never guesses which head came back.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from headlife.shop import Shop

_PLACE = ["printer", "position"]


def named_by_place(typed: pd.DataFrame, shop: Shop) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Name the heads of a log without serials by their place and their turn in it.

    Parameters
    ----------
    typed : DataFrame
        Typed rows, roles and positions completed.
    shop : Shop
        The settings: shape "stretches" or "orders".

    Returns
    -------
    tuple of DataFrame and tuple of str
        The rows with `head`, or with `head_out` and `head_in`; and what is said of it.
    """
    said = said_of_serials(shop)
    if shop.intake.shape == "stretches":
        return typed.assign(head=_names(typed, _turns(typed, "date_in"))), said
    # An order with a reason takes the head out that is in that place, and puts another one in; the
    # first order of a place puts one in.
    turns = _turns(typed, "date")
    first = turns == 1
    changed = first | typed["reason"].notna().to_numpy()
    turns = _turns(typed[changed], "date").reindex(typed.index)
    lost = int((first & typed["reason"].notna()).sum())
    if lost:
        said += (
            f"{lost:,} heads that came out with the first order of their place are not used: when "
            "they went in is not on record.",
        )
    entered = _names(typed, turns)
    left = _names(typed, turns - 1).where(turns > 1, None)
    return typed.assign(head_in=entered, head_out=left), said


def said_of_serials(shop: Shop) -> tuple[str, ...]:
    """Say what is taken of heads in a log without serials.

    Parameters
    ----------
    shop : Shop
        The settings.

    Returns
    -------
    tuple of str
        A sentence; none where heads have serials.
    """
    if not shop.intake.without_serials:
        return ()
    return (
        "Heads have no serials here: every head that goes in counts as another one. One that went "
        "in again counts twice, so lives may look shorter, and its earlier hours count again where "
        "its own counter is read.",
    )


def _turns(rows: pd.DataFrame, day: str) -> pd.Series[float]:
    """Give each row its turn in its place, from 1 by the calendar; none where that is blank."""
    ordered = rows.sort_values(day, kind="stable")
    turns = ordered.groupby(_PLACE, sort=False, dropna=True, observed=True).cumcount() + 1.0
    known = ordered[_PLACE].notna().all(axis=1)
    return turns.where(known).reindex(rows.index)


def _names(rows: pd.DataFrame, turns: pd.Series[float]) -> pd.Series[str]:
    printer, position = (rows[name].astype(object) for name in _PLACE)
    numbers = turns.map(lambda turn: "" if np.isnan(turn) else f"{turn:.0f}")
    names = printer.astype(str) + " " + position.astype(str) + " " + numbers
    return names.astype(object).where(turns.notna(), None)
