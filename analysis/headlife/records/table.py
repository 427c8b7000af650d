"""Read a shop's removal records: every row either accepted or set aside with the reason.

Answers from one table and the shop's settings. What concerns the whole table or the settings
(a missing column, a reason or a head type the settings do not know, an empty table) stops with
a `RecordsError`; what concerns one row (an unreadable date, hours out below hours in) sets that
row aside with a sentence. It never loses a row, never guesses a meaning and never compares two
rows: accepted + set aside = rows read, always.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.cells import Problem, read_date, read_hours, read_name, read_note, read_role
from headlife.records.intake import TextTable, open_table
from headlife.records.schema import contradictions
from headlife.settings_errors import nearest
from headlife.shop import STANDARD_COLUMNS, Shop, reason_key

REQUIRED_COLUMNS: Final = STANDARD_COLUMNS[: STANDARD_COLUMNS.index("reason") + 1]
_MAY_BE_BLANK: Final = frozenset(STANDARD_COLUMNS) - frozenset(REQUIRED_COLUMNS) | {"reason"}
_DATES: Final = ("date_in", "date_out")
_HOURS: Final = ("hours_in", "hours_out", "last_good_hours")
_SENTENCES_SHOWN: Final = 20
_VALUE_SHOWN: Final = 40  # characters of a cell quoted in a sentence

_WHAT_TO_WRITE: Final = {
    "head": "write the head's serial",
    "head_type": "write the head's type as in the settings",
    "role": "write model or support",
    "printer": "write the printer's name",
    "position": "write the head's position in the printer",
    "date_in": "write the day on which the head went in",
    "hours_in": "write the head's hour reading when it went in",
    "date_out": (
        "write the day on which the head came out or, if it is still in, the day of its last "
        "hour reading"
    ),
    "hours_out": "write the head's hour reading at date_out",
}


@dataclass(frozen=True)
class Records:
    """A shop's removal records, read: every row accepted or set aside."""

    accepted: pd.DataFrame
    """Rows that can be used: `row`, the standard columns, `mode` (failure mode), `suspension`
    (kind of removal without failure) and `looked_bad`; None where there is none."""
    set_aside: pd.DataFrame
    """Rows that cannot be used, one line each: `row, column, value, problem`."""
    rows_read: int
    """Rows in the table that are not blank."""
    source: str
    """Name of the file."""
    sha256: str
    """SHA-256 of the file's bytes."""
    shop: Shop
    """The settings used."""
    unused_columns: tuple[str, ...] = ()
    """Columns of the file that no standard column takes its values from."""

    def summary(self) -> str:
        """Say in a few words what was read, accepted and set aside."""
        heads = self.accepted["head"].nunique()
        text = (
            f"{self.source}: {self.rows_read} rows read, {len(self.accepted)} accepted "
            f"({heads} heads), {len(self.set_aside)} set aside."
        )
        if self.unused_columns:
            text += f" Columns not used: {', '.join(self.unused_columns)}."
        return text

    def sentences(self, at_most: int | None = None) -> list[str]:
        """Name each row set aside: file, row, column, value, what is wrong and what to do."""
        named = self.set_aside.head(at_most or len(self.set_aside))
        columns = (named[name].tolist() for name in ("row", "column", "value", "problem"))
        return [
            f"{self.source}, row {row}, {column} {quoted(value)} {problem}."
            for row, column, value, problem in zip(*columns, strict=True)
        ]

    def raise_if_set_aside(self) -> None:
        """Stop when any row was set aside.

        Raises
        ------
        RecordsError
            One sentence per row set aside, the first twenty; then how many more there are.
        """
        if self.set_aside.empty:
            return
        lines = self.sentences(_SENTENCES_SHOWN)
        more = len(self.set_aside) - len(lines)
        if more:
            lines.append(f"{more} more rows of {self.source} cannot be read either.")
        raise RecordsError("\n".join(lines))


def read_records(
    path: str | Path,
    shop: Shop,
    progress: Callable[[str, int, int], None] | None = None,
    unknown: str = "stop",
) -> Records:
    """Read removal records, one row per installation of one head in one printer position.

    Parameters
    ----------
    path : str or Path
        The table; the shop's settings name its columns, date format and decimal mark.
    shop : Shop
        From `read_shop`.
    progress : callable, optional
        Called with (step, done, total); total is 0 while it is not known.
    unknown : {"stop", "set aside"}
        What to do about reasons and head types that the settings do not know.

    Returns
    -------
    Records
        Accepted rows and rows set aside.

    Raises
    ------
    RecordsError
        Missing file or column, empty table, a reason or head type the settings do not know, or
        no row that can be used.
    """
    table = open_table(path, shop.intake, partial(_recognised, columns=shop.columns))
    places, unused = _match_columns(table, shop)
    coded = _code(table, places, progress)
    if coded.rows_read == 0:
        raise RecordsError(
            f"{table.file}: the table has a header and no rows; add at least one installation."
        )
    found = _Findings(coded)
    typed = _typed(coded, shop, found)
    _meanings(typed, coded, shop, found, stop=unknown == "stop", file=table.file)
    sound = typed[~found.faulty()]
    for case in contradictions(sound):
        found.add(case.column, np.array([case.index]), case.sentence)
    set_aside = found.table()
    accepted = typed[~found.faulty()].drop(columns="failed").reset_index(drop=True)
    records = Records(
        accepted, set_aside, coded.rows_read, table.file, table.sha256, shop, tuple(unused)
    )
    if accepted.empty and unknown == "stop":
        records.raise_if_set_aside()
    return records


def quoted(text: str) -> str:
    """Quote a cell for a sentence: shortened, invisible characters named."""
    shown = text if len(text) <= _VALUE_SHOWN else text[: _VALUE_SHOWN - 3] + "..."
    return "'" + "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in shown) + "'"


def column_key(name: str) -> str:
    """Return a column name as it is compared: trimmed, lower case, spaces as underscores."""
    return "_".join(name.replace("_", " ").split()).casefold()


def _recognised(cells: Sequence[str], columns: dict[str, str]) -> int:
    known = {column_key(name) for name in STANDARD_COLUMNS}
    known |= {column_key(name) for name in columns.values()}
    return len(known & {column_key(cell) for cell in cells})


def _match_columns(table: TextTable, shop: Shop) -> tuple[dict[str, int], list[str]]:
    """Find the place of every standard column; (standard name -> place, names not used)."""
    keys = [column_key(name) for name in table.header]
    places: dict[str, int] = {}
    missing: list[str] = []
    for name in STANDARD_COLUMNS:
        wanted = shop.columns.get(name, name)
        hits = [i for i, key in enumerate(keys) if key == column_key(wanted)]
        if len(hits) > 1:
            raise RecordsError(
                f"{table.file}: the column '{wanted}' stands {len(hits)} times in the header; "
                "rename all but the one that counts."
            )
        if hits:
            places[name] = hits[0]
        elif name in REQUIRED_COLUMNS or name in shop.columns:
            missing.append(_missing(name, wanted, table.header, mapped=name in shop.columns))
    if missing:
        found = ", ".join(quoted(name) for name in table.header if name) or "none"
        raise RecordsError(f"{table.file}: {'; '.join(missing)}. The columns found are {found}.")
    used = set(places.values())
    return places, [name for i, name in enumerate(table.header) if name and i not in used]


def _missing(name: str, wanted: str, header: Sequence[str], mapped: bool) -> str:
    guess = nearest(wanted, list(header))
    if mapped:
        return (
            f"the column '{wanted}'{guess}, which the settings name for {name}, is missing; "
            f"correct [columns] {name}"
        )
    return (
        f"the column '{wanted}'{guess} is missing; add it, or name the shop's own column in the "
        f'settings, [columns] {name} = "..."'
    )


@dataclass(frozen=True)
class _Coded:
    """The table with each column as codes into its distinct texts."""

    rows: np.ndarray
    codes: dict[str, np.ndarray]
    texts: dict[str, list[str]]
    misfits: list[tuple[int, str]]
    """(index, sentence) of rows with more cells than the header."""

    @property
    def rows_read(self) -> int:
        return len(self.rows)

    def text(self, column: str, index: int) -> str:
        return self.texts[column][int(self.codes[column][index])]


def _code(
    table: TextTable,
    places: dict[str, int],
    progress: Callable[[str, int, int], None] | None,
) -> _Coded:
    width = len(table.header)
    index_of: dict[str, dict[str, int]] = {name: {} for name in places}
    codes: dict[str, list[int]] = {name: [] for name in places}
    columns = [(place, index_of[name], codes[name]) for name, place in places.items()]
    rows: list[int] = []
    misfits: list[tuple[int, str]] = []
    for number, cells in table.rows:
        if len(cells) != width:
            if any(cell.strip() for cell in cells[width:]):
                misfits.append(
                    (
                        len(rows),
                        f"and its row have {len(cells)} cells where the header has {width}; look "
                        "for a delimiter inside a cell and put that cell in quotation marks",
                    )
                )
            cells = cells + [""] * (width - len(cells))
        rows.append(number)
        for place, known, into in columns:
            text = cells[place]
            into.append(known.setdefault(text, len(known)))
        if progress is not None and len(rows) % 50_000 == 0:
            progress("reading rows", len(rows), 0)
    return _Coded(
        np.array(rows, dtype=np.int64),
        {name: np.array(column, dtype=np.int64) for name, column in codes.items()},
        {name: list(known) for name, known in index_of.items()},
        misfits,
    )


class _Findings:
    """Problems found so far: per row, the first column and value and all sentences."""

    def __init__(self, coded: _Coded) -> None:
        self._coded = coded
        self._faulty = np.zeros(coded.rows_read, dtype=bool)
        self._found: dict[int, tuple[str, list[str]]] = {}
        for index, sentence in coded.misfits:
            self.add("head", np.array([index]), sentence)

    def add(self, column: str, indices: np.ndarray, sentence: str) -> None:
        self._faulty[indices] = True
        for index in indices.tolist():
            if index not in self._found:
                self._found[index] = (column, [sentence])
            else:
                value = quoted(self._coded.text(column, index))
                self._found[index][1].append(f"{column} {value} {sentence}")

    def faulty(self) -> np.ndarray:
        return self._faulty.copy()

    def table(self) -> pd.DataFrame:
        lines = [
            (int(self._coded.rows[i]), column, self._coded.text(column, i), "; and ".join(said))
            for i, (column, said) in sorted(self._found.items())
        ]
        table = pd.DataFrame(lines, columns=["row", "column", "value", "problem"])
        return table.astype({"row": np.int64})


def _typed(coded: _Coded, shop: Shop, found: _Findings) -> pd.DataFrame:
    columns: dict[str, Any] = {"row": coded.rows}
    for name in STANDARD_COLUMNS:
        if name not in coded.codes:
            columns[name] = _blank(name, coded.rows_read)
            continue
        reader = _reader(name, shop)
        codes = coded.codes[name]
        values = [reader(text) for text in coded.texts[name]]
        _cell_problems(name, values, codes, found)
        good = [None if isinstance(value, Problem) else value for value in values]
        columns[name] = _array(name, good)[codes]
    return pd.DataFrame(columns)


def _blank(name: str, rows: int) -> np.ndarray:
    return np.full(rows, np.nan) if name in _HOURS else np.full(rows, None, dtype=object)


def _reader(name: str, shop: Shop) -> Callable[[str], Any]:
    if name in _DATES:
        return partial(read_date, date_format=shop.intake.date_format)
    if name in _HOURS:
        return partial(read_hours, decimal=shop.intake.decimal)
    return {"role": read_role, "note": read_note}.get(name, read_name)


def _cell_problems(name: str, values: list[Any], codes: np.ndarray, found: _Findings) -> None:
    bad = [i for i, value in enumerate(values) if isinstance(value, Problem)]
    if name not in _MAY_BE_BLANK:
        bad += [i for i, value in enumerate(values) if value is None]
    for i in bad:
        problem = values[i]
        sentence = (
            problem.sentence
            if isinstance(problem, Problem)
            else f"is blank; {_WHAT_TO_WRITE[name]}"
        )
        found.add(name, np.flatnonzero(codes == i), sentence)


def _array(name: str, values: list[Any]) -> np.ndarray:
    if name in _DATES:
        return np.array(values, dtype="datetime64[us]").astype("datetime64[ns]")
    if name in _HOURS:
        return np.array([np.nan if value is None else value for value in values], dtype=float)
    array = np.empty(len(values), dtype=object)
    array[:] = values
    return array


def _meanings(
    typed: pd.DataFrame,
    coded: _Coded,
    shop: Shop,
    found: _Findings,
    stop: bool,
    file: str,
) -> None:
    """Add `mode`, `suspension`, `looked_bad` and `failed`, from the settings' reasons."""
    known = shop.reasons.known
    reasons = typed["reason"].map(
        lambda text: None if text is None else known.get(reason_key(text))
    )
    unknown_reason = (typed["reason"].notna() & reasons.isna()).to_numpy()
    unknown_type = (
        typed["head_type"].notna() & ~typed["head_type"].isin(list(shop.head_types))
    ).to_numpy()
    if stop:
        lines = _unknown(typed, "reason", unknown_reason, shop, file)
        lines += _unknown(typed, "head_type", unknown_type, shop, file)
        if lines:
            raise RecordsError("\n".join(lines))
    for column, where in (("reason", unknown_reason), ("head_type", unknown_type)):
        found.add(column, np.flatnonzero(where), "is not in the settings; add it there")
    table = reasons.map(lambda meaning: meaning and meaning[0])
    meaning = reasons.map(lambda meaning: meaning and meaning[1]).astype(object)
    typed["mode"] = meaning.where(table.isin(["failures", "looked_bad"]), None)
    typed["suspension"] = meaning.where(table == "suspensions", None)
    typed["looked_bad"] = (table == "looked_bad").to_numpy(dtype=bool)
    typed["failed"] = typed["mode"].notna()


def _unknown(
    typed: pd.DataFrame, column: str, where: np.ndarray, shop: Shop, file: str
) -> list[str]:
    """One sentence per text the settings do not know, with its first row."""
    lines = []
    for text, rows in typed.loc[where].groupby(column, sort=False)["row"]:
        name = str(text)
        times = "once" if len(rows) == 1 else f"{len(rows)} times"
        line = f"{file}, row {rows.iloc[0]}, {column} {quoted(name)} (found {times})"
        if column == "reason":
            known = [t for t in (*shop.reasons.failures, *shop.reasons.suspensions)]
            line += (
                f' is not in the settings{nearest(name, known)}; add the line "{name}" = "..." '
                "under [reasons.failures], with its failure mode, or under "
                "[reasons.suspensions], with its kind."
            )
        else:
            line += (
                f" is not in the settings{nearest(name, list(shop.head_types))}; add a table "
                f'[head_types."{name}"] with its rated_hours, or correct the row.'
            )
        lines.append(line)
    return lines
