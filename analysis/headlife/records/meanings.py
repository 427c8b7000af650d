"""Give every row the meaning of its reason: a failure mode, a suspension, or still in service.

Answers from the settings' `[reasons]` and `[head_types]`. A text the settings do not know is
named, with its first row and what to add; it never guesses what a text means.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Final

import numpy as np
import pandas as pd

from headlife.alike import nearest
from headlife.records.cells import quoted
from headlife.shop import Shop, reason_key

# Tables of reasons that may or may not have been failures -> what such a removal is called.
LOOKED_BAD: Final = "looked bad"
CAUSE_UNKNOWN: Final = "cause unknown"
IN_DOUBT: Final = {"looked_bad": LOOKED_BAD, "may_have_failed": CAUSE_UNKNOWN}


def add_meanings(typed: pd.DataFrame, shop: Shop) -> None:
    """Add the columns `mode`, `suspension` and `in_doubt` to typed rows.

    Parameters
    ----------
    typed : DataFrame
        Rows with the column `reason`; None or unknown texts get no meaning.
    shop : Shop
        The settings.
    """
    codes, texts = pd.factorize(typed["reason"])
    known = shop.reasons.known
    meant = [known.get(reason_key(text), (None, None)) for text in texts] + [(None, None)]
    failed = ("failures", *IN_DOUBT)
    typed["mode"] = _spread([what if table in failed else None for table, what in meant], codes)
    typed["suspension"] = _spread(
        [what if table == "suspensions" else None for table, what in meant], codes
    )
    typed["in_doubt"] = _spread([IN_DOUBT.get(table or "") for table, _ in meant], codes)


def unknown_texts(typed: pd.DataFrame, column: str, shop: Shop) -> np.ndarray:
    """Find rows whose reason or head type the settings do not know; a boolean per row.

    Parameters
    ----------
    typed : DataFrame
        Rows with every cell read.
    column : str
        Name of the column.
    shop : Shop
        The settings.

    Returns
    -------
    array
        True where it does not, (n,).
    """
    codes, texts = pd.factorize(typed[column])
    if column in ("reason", "event"):
        known = shop.reasons.known if column == "reason" else _events(shop)
        strange = [reason_key(text) not in known for text in texts]
    else:
        strange = [text not in shop.head_types for text in texts]
    return np.array([*strange, False])[codes]


def unknown_sentences(typed: pd.DataFrame, column: str, shop: Shop, file: str) -> list[str]:
    """Give one sentence per text the settings do not know, with its first row.

    Parameters
    ----------
    typed : DataFrame
        Rows with every cell read.
    column : str
        Name of the column.
    shop : Shop
        The settings.
    file : str
        Name of the file.

    Returns
    -------
    list of str
        The sentences.
    """
    strange = typed.loc[unknown_texts(typed, column, shop)]
    return [
        f"{file}, row {rows.iloc[0]}, {column} {quoted(str(text))} (found {_times(len(rows))}) "
        f"{what_to_add(column, str(text), shop)}."
        for text, rows in strange.groupby(column, sort=False)["row"]
    ]


def what_to_add(column: str, text: str, shop: Shop) -> str:
    """Say what to add to the settings for a reason or head type they do not know.

    Parameters
    ----------
    column : str
        Name of the column.
    text : str
        The text.
    shop : Shop
        The settings.

    Returns
    -------
    str
        The words.
    """
    key = json.dumps(text, ensure_ascii=False)
    if column == "event":
        return (
            f"is not in the settings{nearest(text, list(shop.intake.events))}; add the line {key} "
            '= "installed", "removed", "swapped" or "reading" under [intake.events]'
        )
    if column == "reason":
        return (
            f"is not in the settings{nearest(text, _reasons(shop))}; add the line {key} = "
            '"..." under [reasons.failures], with its failure mode, or under '
            "[reasons.suspensions], with its kind"
        )
    return (
        f"is not in the settings{nearest(text, list(shop.head_types))}; add a table "
        f"[head_types.{key}] with its rated_hours, or correct the row"
    )


def _events(shop: Shop) -> set[str]:
    return {reason_key(word) for word in shop.intake.events}


def _reasons(shop: Shop) -> list[str]:
    reasons = shop.reasons
    return [
        *reasons.failures,
        *reasons.suspensions,
        *reasons.looked_bad,
        *reasons.may_have_failed,
    ]


def _spread(values: Iterable[str | None], codes: np.ndarray) -> np.ndarray:
    listed = list(values)
    array = np.empty(len(listed), dtype=object)
    array[:] = listed
    return np.asarray(array[codes])


def _times(n: int) -> str:
    return "once" if n == 1 else f"{n} times"
