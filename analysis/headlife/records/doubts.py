"""What is doubtful in rows that are kept? Checks that flag, each for one kind of disagreement.

Answers from rows that are sound one by one. Checks that set rows aside are in
`headlife.records.checks`. None of them mends anything.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Final

import pandas as pd

from headlife.records.cells import alike_key, quoted
from headlife.records.checks import extremes, first_of_group
from headlife.records.findings import KEPT, Finding, doubt, name_rows
from headlife.records.frames import OF_THE_HEAD

_WHAT_HAS_NAMES: Final = {"head": "Heads", "printer": "Printers"}
_OF_ONE: Final = {"date_bought": ("day of purchase", "days of purchase")}
# A head's serial with a mark of repair behind it; common practice, no source.
_LONGEST_MARK: Final = 12  # letters of such a mark
_REPAIRED: Final = re.compile(
    r"(.+?)[-_ ./]?(?:R|RP|REP|RF|REF|REFURB|REV|REPARIERT)[-_ ]?[0-9]{0,2}", re.IGNORECASE
)
_FAILS_WITHOUT_HOURS: Final = "failed with no hours run"


def roles(rows: pd.DataFrame) -> list[Finding]:
    """Find heads that change their role after they were first loaded.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    torn = _of_several(rows, "role")
    if torn.empty:
        return []
    row, head, role = (torn[name].to_numpy() for name in ("row", "head", "role"))
    starts = first_of_group(pd.factorize(head)[0]).tolist()
    found = []
    for start, end in zip(starts, [*starts[1:], len(torn)], strict=True):
        first = role[start]
        others = row[start:end][role[start:end] != first]
        other = "support" if first == "model" else "model"
        found.append(
            doubt(
                "role changes",
                name_rows(others),
                head[start],
                f"Head {quoted(head[start])} was first loaded as {first} (row {row[start]}) and "
                f"stands as {other} in row {name_rows(others)}; correct the role. It counts as "
                f"{first}.",
            )
        )
    return found


def two_statements(rows: pd.DataFrame) -> list[Finding]:
    """Find heads that are said to be of two lots or vendors, or bought on two days.

    A head that was refurbished is another one since, and may have another vendor.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    found: list[Finding] = []
    for column in OF_THE_HEAD:
        if column in rows and rows[column].notna().any():
            found += _torn(rows, column)
    return found


def _torn(rows: pd.DataFrame, column: str) -> list[Finding]:
    torn = _of_several(rows[rows[column].notna()], column)
    return [
        _two_values(str(head), own, column)
        for head, own in torn.groupby("head", sort=True, observed=True)
    ]


def _of_several(rows: pd.DataFrame, column: str) -> pd.DataFrame:
    """Rows of heads with more than one value in a column, head by head as they followed."""
    codes, _ = pd.factorize(rows["head"])
    values, _ = pd.factorize(rows[column])
    low, high = extremes(codes, values)
    torn: pd.DataFrame = rows[(low != high)[codes]]
    return torn.sort_values(["head", "date_in", "hours_in", "row"])


def _two_values(head: str, own: pd.DataFrame, column: str) -> Finding:
    one, many = _OF_ONE.get(column, (column, f"{column}s"))
    by_value = own.groupby(column, sort=False, observed=True)["row"]
    said = " and ".join(
        f"{_in_words(value)} (row{'s' * (len(numbers) > 1)} {name_rows(numbers)})"
        for value, numbers in by_value
    )
    return doubt(
        f"two {many}",
        name_rows(own["row"]),
        head,
        f"Head {quoted(head)} has more than one {one} in its rows: {said}. A head has one; "
        f"correct the others. Until then the last counts, {_in_words(own[column].iloc[-1])}.",
    )


def _in_words(value: object) -> str:
    return f"{value:%Y-%m-%d}" if isinstance(value, pd.Timestamp) else quoted(str(value))


def first_mentions(rows: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Give every head and printer with the row that names it first.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    dict of str to DataFrame
        By column: that column and `row`, one line for each name.
    """
    return {name: rows.drop_duplicates(name)[[name, "row"]] for name in _WHAT_HAS_NAMES}


def spellings(mentions: dict[str, pd.DataFrame]) -> list[Finding]:
    """Find names that look alike: see `alike_key`.

    Parameters
    ----------
    mentions : dict of str to DataFrame
        From `first_mentions`.

    Returns
    -------
    list of Finding
        The findings.
    """
    found = []
    for column, what in _WHAT_HAS_NAMES.items():
        first = mentions[column]
        plain = first[column].map(alike_key)
        if plain.is_unique:
            continue
        for _, same in first[plain.duplicated(keep=False)].groupby(plain, sort=True):
            spelt = " and ".join(sorted(quoted(name) for name in same[column]))
            found.append(
                doubt(
                    "two spellings",
                    name_rows(same["row"]),
                    "" if column == "printer" else min(same[column]),
                    f"{what} {spelt} (rows {name_rows(same['row'])}) differ only in capitals, "
                    "spaces, dashes, leading zeros, words in brackets behind them or letters that "
                    "look the same; if they are one, write one name. They count as different.",
                )
            )
    return found


def came_back(rows: pd.DataFrame) -> list[Finding]:
    """Find serials that look like those of heads that came back repaired, which nobody says.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        One at most.
    """
    heads = [str(head) for head in rows["head"].unique()]
    marked = [head for head in heads if not {"r", "R"}.isdisjoint(head[-_LONGEST_MARK:])]
    if not marked:
        return []
    first = rows[rows["head"].isin(marked)].drop_duplicates("head")
    if "refurbished" in first:
        first = first[~first["refurbished"].astype(bool)]
    left = set(rows.loc[rows["reason"].notna(), "head"])
    found = [
        (row, head, base[1])
        for row, head in zip(first["row"], first["head"].astype(str), strict=True)
        if (base := _REPAIRED.fullmatch(head)) and base[1] in left
    ]
    if not found:
        return []
    _, head, was = found[0]
    return [
        Finding(
            "serials of repaired heads",
            "note",
            KEPT,
            name_rows(row for row, _, _ in found),
            head,
            f"{'A serial looks' if len(found) == 1 else f'{len(found)} serials look'} like those "
            f"of heads that came back repaired: {quoted(head)}, say, after {quoted(was)} came out. "
            "If they did, write yes in a column for refurbished heads (refurbished). They count as "
            "new heads taken from the stock.",
        )
    ]


def no_hours(rows: pd.DataFrame) -> list[Finding]:
    """Find heads that failed without an hour run since they are on record.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    failed = rows[rows["mode"].notna() & (rows["hours_out"] <= rows["hours_in"])]
    if failed.empty:
        return []
    entry = rows.groupby("head", sort=False, observed=True)["hours_in"].min()
    dead = failed[failed["hours_out"].to_numpy() <= entry.loc[failed["head"]].to_numpy()]
    return [
        doubt(
            _FAILS_WITHOUT_HOURS,
            str(row),
            head,
            f"Row {row}: head {quoted(head)} failed at {hours:,.1f} h, the hours it came with, so "
            "nothing is known of its life; if it ran at all, write the hours. It counts in the "
            "log and in no life.",
        )
        for row, head, hours in zip(dead["row"], dead["head"], dead["hours_out"], strict=True)
    ]


def future(rows: pd.DataFrame, today: date) -> list[Finding]:
    """Find dates later than today: one finding for all, since the clock may be what is wrong.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    today : date
        The day on which it is asked.

    Returns
    -------
    list of Finding
        The findings.
    """
    late = rows[(rows["date_out"].dt.normalize() > pd.Timestamp(today))]
    if late.empty:
        return []
    return [
        doubt(
            "future date",
            name_rows(late["row"]),
            "",
            f"Dated after today, {today:%Y-%m-%d}: row {name_rows(late['row'])}. Correct the "
            "dates, or this computer's; they count as written, and ages are projected to the "
            "newest date unless an as-of date is given.",
        )
    ]
