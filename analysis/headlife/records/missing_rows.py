"""Are heads that lasted missing from the log? No head is in, or places are empty between failures.

Answers from the days and reasons of sound rows, all at once. A log of failures alone, or without
the heads in service, makes heads look far shorter-lived than they are and asks for no spare. It
states what is on record and what to add, and never adds it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.checks import first_of_group
from headlife.records.findings import Finding, doubt
from headlife.records.places import place_codes, superseded

ROWS_MISSING: Final = "heads missing from the log"
# Own choices, no source: a log is asked whether it is of failures alone where at least so many
# heads came out, nearly all of them failed, and places stood empty for so much of their time.
# Where a head goes in as the one before it comes out, as in every simulated shop, none is empty.
_FEWEST: Final = 4
_NEARLY_ALL: Final = 0.9
_EMPTY_SHARE: Final = 0.2


def missing_rows(rows: pd.DataFrame) -> list[Finding]:
    """Find that heads that lasted are not in the log.

    Parameters
    ----------
    rows : DataFrame
        All accepted rows.

    Returns
    -------
    list of Finding
        One at most.
    """
    out = rows["reason"].notna().to_numpy()
    if not out.any():
        return []
    failed = int(rows["mode"].notna().to_numpy().sum())
    only_failures = int(out.sum()) >= _FEWEST and failed >= _NEARLY_ALL * int(out.sum())
    said = []
    if not (~out & ~superseded(rows)).any():
        newest = rows["date_out"].max()
        said.append(
            f"By these records no head is in any printer since {newest:%Y-%m-%d}. Where printers "
            "have heads in, add a row for each: the day it went in, its last hour reading and no "
            "reason. Without them nothing is forecast, no spare is asked for, and heads look "
            "shorter-lived than they are."
        )
    empty = _empty_between(rows) if only_failures else ""
    if empty or (said and only_failures):
        of_all = f"all {failed:,}" if failed == out.sum() else f"{failed:,} of the {out.sum():,}"
        said.append(
            f"{of_all[0].upper()}{of_all[1:]} removals on record are failures{empty}. If the log "
            "is of failures alone, add the heads that came out working: without them no answer "
            "about the rating is worth anything. If every head ran until it failed, nothing is "
            "missing there."
        )
    return [doubt(ROWS_MISSING, "", "", " ".join(said))] if said else []


def _empty_between(rows: pd.DataFrame) -> str:
    """Say for how long places were empty between two heads; nothing where that is little."""
    place, _ = place_codes(rows)
    start, end = (
        rows[name].to_numpy().astype("datetime64[D]").astype(np.int64)
        for name in ("date_in", "date_out")
    )
    order = np.lexsort((end, start, place))
    place, start, end = place[order], start[order], end[order]
    # Until when the place had a head, whichever went in before.
    offset = place * (int(end.max()) - int(start.min()) + 1)
    ended = np.maximum.accumulate(end + offset) - offset
    gap = np.r_[0, np.maximum(start[1:] - ended[:-1], 0)]
    begins = first_of_group(place)
    gap[begins] = 0
    lasts = np.r_[begins[1:], len(place)] - 1
    whole = int((ended[lasts] - start[begins]).sum())
    if not whole or gap.sum() < _EMPTY_SHARE * whole:
        return ""
    at = int(gap.argmax())
    printer, position = (rows[name].to_numpy()[order[at]] for name in ("printer", "position"))
    first, last = np.array([ended[at - 1], start[at]]).astype("datetime64[D]")
    return (
        f", and positions are empty for {100 * gap.sum() / whole:.0f} % of their time (position "
        f"{quoted(str(position))} of printer {quoted(str(printer))} from {first} to {last}, say)"
    )


def rows_missing(findings: pd.DataFrame) -> list[str]:
    """Give what `missing_rows` found, in words.

    Parameters
    ----------
    findings : DataFrame
        Findings of records, whatever they are of.

    Returns
    -------
    list of str
        The sentences.
    """
    return [str(said) for said in findings.loc[findings["check"] == ROWS_MISSING, "sentence"]]
