"""Whose hours are these: does a column called the head's hold the printer's meter?

Answers by comparing neighbours: heads that start where the one before them in that position
ended, counters that equal the printer's meter, readings at removal that only ever grow, hours
that grow faster than the calendar. Nothing in a single row shows it, and lives read by the wrong
clock are wrong by whole lives: so where rows look like it, the shop is asked for one line of the
settings, and nothing is answered until it is there. It never decides the question itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import lgamma
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.findings import Finding, doubt, name_rows
from headlife.records.places import place_codes
from headlife.shop import Shop
from headlife.units import HOURS_PER_DAY

# Own choices, no source. A new head's counter starts at about 0; one that starts above this and
# within the hours that fit between two readings of one meter looks like the meter.
_NEW_HEAD_HOURS: Final = 1.0
_SAME_READING_HOURS: Final = 1.0
_AT_LEAST: Final = 2
_SHARE_OF_ALL: Final = 0.25
_SHARE_OF_PRINTER: Final = 0.5
_FASTER_SHARE: Final = 0.2
_FASTER_AT_LEAST: Final = 2
# Chance that heads' own counters at removal grow from head to head in every position, from which
# on the shop is asked, and from which on it is only told.
_ASKED: Final = 0.001
_TOLD: Final = 0.02
_ROWS_SHOWN: Final = 3


@dataclass(frozen=True)
class Suspicion:
    """What speaks for the printer's meter in the columns of the head's hours."""

    questions: tuple[str, ...] = ()
    """Sentences that must be settled before anything is answered."""
    findings: tuple[Finding, ...] = ()
    """What is told and not asked."""


@dataclass(frozen=True)
class _Pairs:
    """Pairs of heads that followed each other in one position."""

    first: np.ndarray
    second: np.ndarray
    goes_on: np.ndarray
    """The second starts where the first ended, as one meter would."""
    starts_new: np.ndarray
    """The second starts at 0 after a first that had run: a counter of its own."""


def whose_clock(rows: pd.DataFrame, shop: Shop) -> Suspicion:
    """Look for the printer's meter in the columns of the head's own hours.

    Parameters
    ----------
    rows : DataFrame
        Sound stretches read by the head's counter, `hours_in` and `hours_out` [h] not blank.
    shop : Shop
        The settings: printers for which `[intake]` states the clock are not looked at.

    Returns
    -------
    Suspicion
        What speaks for the meter.
    """
    if shop.intake.hours is not None or not len(rows):
        return Suspicion()
    settled = rows["printer"].isin(list(shop.intake.hours_of)).to_numpy()
    rows = rows[~settled] if settled.any() else rows
    pairs = _pairs(rows)
    found = [*_going_on(rows, pairs), *_equal_meters(rows), *_only_growing(rows, pairs)]
    found += list(_faster(rows))
    return Suspicion(
        tuple(one for one in found if isinstance(one, str)),
        tuple(one for one in found if isinstance(one, Finding)),
    )


def _pairs(rows: pd.DataFrame) -> _Pairs:
    place, _ = place_codes(rows)
    heads, _ = pd.factorize(rows["head"])
    start, end = (
        rows[name].to_numpy().astype("datetime64[D]").astype(np.int64)
        for name in ("date_in", "date_out")
    )
    hours_in, hours_out = rows["hours_in"].to_numpy(), rows["hours_out"].to_numpy()
    order = np.lexsort((end, start, place))
    first, second = order[:-1], order[1:]
    follow = (place[first] == place[second]) & (heads[first] != heads[second])
    first, second = first[follow], second[follow]
    grown = hours_in[second] - hours_out[first]
    days = np.maximum(start[second] - end[first], 0) + 1
    goes_on = (
        (hours_in[second] > _NEW_HEAD_HOURS)
        & (grown >= -_SAME_READING_HOURS)
        & (grown <= HOURS_PER_DAY * days)
    )
    goes_on[goes_on] = _first_rows(rows, heads, start, second[goes_on])
    new = (hours_in[second] <= _NEW_HEAD_HOURS) & (hours_out[first] > HOURS_PER_DAY)
    return _Pairs(first, second, goes_on, new)


def _first_rows(
    rows: pd.DataFrame, heads: np.ndarray, start: np.ndarray, places: np.ndarray
) -> np.ndarray:
    """Tell which rows are the first of their head: only there does a counter start."""
    own = np.isin(heads, heads[places])
    earliest = pd.Series(start[own]).groupby(heads[own]).min()
    return np.asarray(start[places] <= earliest.loc[heads[places]].to_numpy())


def _going_on(rows: pd.DataFrame, pairs: _Pairs) -> Iterator[str | Finding]:
    """Ask where heads start at the hours at which the one before them ended."""
    hits = np.flatnonzero(pairs.goes_on)
    if not len(hits):
        return
    printer, _ = pd.factorize(rows["printer"])
    of_hit, of_new = printer[pairs.second[hits]], printer[pairs.second[pairs.starts_new]]
    most = int(np.bincount(of_hit).max())
    there = np.bincount(of_new, minlength=printer.max() + 1)
    by_printer = np.bincount(of_hit, minlength=printer.max() + 1)
    whole = len(hits) >= _AT_LEAST and len(hits) >= _SHARE_OF_ALL * (len(hits) + len(of_new))
    one = most >= _AT_LEAST and bool(
        ((by_printer >= _AT_LEAST) & (by_printer >= _SHARE_OF_PRINTER * (by_printer + there))).any()
    )
    first, second = pairs.first[hits], pairs.second[hits]
    grown = rows["hours_in"].to_numpy()[second] - rows["hours_out"].to_numpy()[first]
    # One pair alone is asked about only where it reads the same, not merely what would fit.
    alone = len(hits) == 1 and not len(of_new) and abs(float(grown[0])) <= _SAME_READING_HOURS
    if whole or one or alone:
        yield (
            f"{len(hits)} of {len(hits) + len(of_new)} heads that were put where another one had "
            f"been start where that one ended: {_example(rows, int(first[0]), int(second[0]))}. "
            f"{_CHOICE}"
        )
        return
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        yield doubt(
            "counter goes on from another head",
            name_rows(rows["row"].iloc[[a, b]]),
            str(rows["head"].iloc[b]),
            f"{_example(rows, a, b)}. If that is the printer's meter, write the head's own hours; "
            "they count as hours it came with.",
        )


_CHOICE: Final = (
    'If the hours are the printer\'s meter, state [intake] hours = "printer"; if they are the '
    'heads\' own counters, state [intake] hours = "head"; where printers differ, hours_of = '
    '{ "PRINTER" = "printer" }'
)


def _example(rows: pd.DataFrame, a: int, b: int) -> str:
    one, other = rows.iloc[a], rows.iloc[b]
    return (
        f"head {quoted(one['head'])} came out of printer {quoted(one['printer'])}, position "
        f"{quoted(one['position'])}, at {one['hours_out']:,.1f} h (row {one['row']}), and head "
        f"{quoted(other['head'])} went in there at {other['hours_in']:,.1f} h (row {other['row']})"
    )


def _equal_meters(rows: pd.DataFrame) -> Iterator[str]:
    """Ask where the head's counter reads what the printer's meter does."""
    if "printer_hours_in" not in rows:
        return
    own = rows[["hours_in", "hours_out"]].to_numpy(dtype=float)
    meter = np.column_stack(
        [rows["printer_hours_in"], rows.get("printer_hours_out", np.full(len(rows), np.nan))]
    ).astype(float)
    both = np.isfinite(meter).any(axis=1) & (own[:, 0] > _NEW_HEAD_HOURS)
    same = both & (np.nan_to_num(np.abs(own - meter)) <= _SAME_READING_HOURS / 10).all(axis=1)
    if same.sum() >= _AT_LEAST and same.sum() >= _SHARE_OF_ALL * both.sum():
        yield (
            f"in {int(same.sum())} rows the head's hours equal the printer's meter (row "
            f"{name_rows(rows['row'][same].head(_ROWS_SHOWN))}). {_CHOICE}"
        )


def _only_growing(rows: pd.DataFrame, pairs: _Pairs) -> Iterator[str | Finding]:
    """Ask where hours at removal only ever grow from head to head, as a meter's would.

    Heads' own hours at removal come in any order: the chance that m of them in one position only
    grow is 1 / m!, whatever their lives (heads of one position being alike).
    """
    hours_in, hours_out = rows["hours_in"].to_numpy(), rows["hours_out"].to_numpy()
    new = np.maximum(hours_in[pairs.first], hours_in[pairs.second]) <= _NEW_HEAD_HOURS
    closed = rows["reason"].notna().to_numpy()
    new &= closed[pairs.first] & closed[pairs.second]
    first, second = pairs.first[new], pairs.second[new]
    if not len(first):
        return
    grows = hours_out[second] > hours_out[first]
    if not grows.all():
        return
    place, _ = place_codes(rows)
    heads = np.bincount(np.unique(place[first], return_inverse=True)[1]) + 1
    chance = float(np.exp(-sum(lgamma(m + 1.0) for m in heads.tolist())))
    sentence = (
        f"the hours at removal only ever grow from head to head in each of {len(heads)} positions, "
        f"from {hours_out[first].min():,.0f} to {hours_out[second].max():,.0f} h, as a printer's "
        f"meter does; heads' own hours would do so with a chance of {chance:.1g}"
    )
    if chance <= _ASKED:
        yield f"{sentence}. {_CHOICE}"
    elif chance <= _TOLD:
        yield doubt(
            "hours only grow",
            name_rows(rows["row"].iloc[np.union1d(first, second)]),
            "",
            f"{sentence[0].upper()}{sentence[1:]}. If they are the printer's meter, state [intake] "
            'hours = "printer".',
        )


def _faster(rows: pd.DataFrame) -> Iterator[str]:
    """Ask where many rows have more hours than their days."""
    days = (rows["date_out"].dt.normalize() - rows["date_in"].dt.normalize()).dt.days.to_numpy() + 1
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy()
    fast = run > HOURS_PER_DAY * days
    if fast.sum() < max(_FASTER_AT_LEAST, _FASTER_SHARE * len(rows)):
        return
    i = int(np.flatnonzero(fast)[0])
    yield (
        f"hours grow faster than the calendar in {int(fast.sum())} of {len(rows)} rows: row "
        f"{rows['row'].iloc[i]} has {run[i]:,.1f} h in {days[i]:,.0f} days. If the readings at "
        'removal are the printer\'s meter, state [intake] hours = "printer" (and leave hours_in '
        'blank where it was not read); if single readings are wrong, state [intake] hours = "head" '
        "and these rows are set aside"
    )
