"""What was read of a shop's removal records: rows accepted, rows set aside, doubts.

Holds them with their source and the settings, says in a few words what they are, and writes the
accepted rows. Never reads a table and never judges a row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from headlife.display import shows_itself
from headlife.errors import RecordsError
from headlife.records.causes import causes
from headlife.records.cells import as_typed, quoted
from headlife.records.frames import columns_of
from headlife.records.origins import Origins
from headlife.records.written import ReadAs
from headlife.shop import Shop
from headlife.shop.columns import STANDARD_COLUMNS, of_kind

_SENTENCES_SHOWN: Final = 20


def _none_left_out() -> pd.DataFrame:
    return pd.DataFrame(columns=list(columns_of("no_records"))).astype({"row": np.int64})


def _no_findings() -> pd.DataFrame:
    return pd.DataFrame(columns=list(columns_of("findings")))


def settled(questions: Sequence[str], source: str) -> None:
    """Stop while something must be stated in the settings first.

    Parameters
    ----------
    questions : sequence of str
        What must be stated, in sentences without a full stop.
    source : str
        Name of the records.

    Raises
    ------
    RecordsError
        One sentence per question, with the line to write.
    """
    if questions:
        raise RecordsError("\n".join(f"{source}: {one}." for one in questions))


@shows_itself
@dataclass(frozen=True)
class Records:
    """A shop's removal records, read: every row accepted or set aside."""

    accepted: pd.DataFrame
    """Rows that can be used, as `frames` describes them under "accepted": the columns of the
    table, `mode` (failure mode), `suspension` (kind of removal without failure), `in_doubt`."""
    set_aside: pd.DataFrame
    """Rows that cannot be used, one line each, as `frames` describes them."""
    rows_read: int
    """Rows in the table that are not blank."""
    source: str
    """Name of the file."""
    sha256: str
    """SHA-256 of the file's bytes."""
    shop: Shop
    """The settings used."""
    unused_columns: tuple[str, ...] = ()
    """Columns of the file that no standard column takes its values from; one that has no name in
    the header, by its letter, with how many cells it holds."""
    findings: pd.DataFrame = field(default_factory=_no_findings)
    """Doubts about accepted rows that disagree with each other, kept and flagged; see `audit`."""
    notes: tuple[str, ...] = ()
    """Sentences about what was found out of how the table is written and is not stated."""
    questions: tuple[str, ...] = ()
    """Sentences about what must be stated in the settings before anything is answered."""
    not_read: tuple[str, ...] = ()
    """Sentences about sheets of its files that look like the log and are not read."""
    no_records: pd.DataFrame = field(default_factory=_none_left_out)
    """Rows of the table that are no records, as `frames` describes them: sums, headings, rows
    that the settings leave out."""
    origins: Origins = field(default_factory=lambda: Origins(()))
    """Where each row stands: sheet, row and cell."""
    read_as: ReadAs = field(default_factory=dict)
    """How cells are written that can be read in two ways."""
    to_compare: pd.DataFrame | None = None
    """Of a part of many files, what rows of all parts are compared by: `audit.COMPARED`, `used`
    (among `accepted`), `by_counter` (its hours were read by the head's own counter)."""

    @property
    def rows_used(self) -> int:
        """Rows of the table that accepted rows were made of."""
        return self.rows_read - len(self.set_aside) - len(self.no_records)

    def summary(self) -> str:
        """Say in a few words what was read, accepted and set aside."""
        heads = self.accepted["head"].nunique()
        text = (
            f"{self.source}: {self.rows_read} {'row' if self.rows_read == 1 else 'rows'} read, "
            f"{self.rows_used} accepted ({heads} {'head' if heads == 1 else 'heads'}), "
            f"{len(self.set_aside)} set aside"
        )
        text += f", {len(self.no_records)} no records." if len(self.no_records) else "."
        if len(self.findings):
            text += f" Doubts about accepted rows: {len(self.findings)}; headlife check lists them."
        text += "".join(f" {note}" for note in (*self.not_read, *self.notes))
        if self.unused_columns:
            text += f" Columns not used: {', '.join(map(quoted, self.unused_columns))}."
        return text

    def sentences(self, at_most: int | None = None) -> list[str]:
        """Name each row set aside: file, row, column, value, what is wrong and what to do.

        Parameters
        ----------
        at_most : int, optional
            Most sentences; None for all.

        Returns
        -------
        list of str
            The sentences.
        """
        named = self.set_aside.head(at_most or len(self.set_aside))
        columns = (named[name].tolist() for name in ("row", "column", "value", "problem"))
        return [
            f"{self.source}, row {self.origins.name(row)}, {column} {quoted(value)} {problem}."
            for row, column, value, problem in zip(*columns, strict=True)
        ]

    def raise_if_not_settled(self) -> None:
        """Stop while something must be stated in the settings first.

        Raises
        ------
        RecordsError
            One sentence per question, with the line to write.
        """
        settled(self.questions, self.source)

    def raise_if_set_aside(self) -> None:
        """Stop when any row was set aside.

        Raises
        ------
        RecordsError
            One sentence per cause, those with the most rows first, the first twenty; then how
            many more there are.
        """
        if self.set_aside.empty:
            return
        found = causes(self.set_aside, self.origins)
        lines = [f"{self.source}, {cause.sentence}." for cause in found[:_SENTENCES_SHOWN]]
        more = sum(len(cause.rows) for cause in found[_SENTENCES_SHOWN:])
        if more:
            lines.append(f"{more} more rows of {self.source} cannot be used either.")
        raise RecordsError("\n".join(lines))

    def write_accepted(self, path: str | Path) -> None:
        """Write the accepted rows as CSV under the standard names; reading it changes nothing.

        Parameters
        ----------
        path : str or Path
            Where to write.
        """
        names = (*STANDARD_COLUMNS, *self.shop.own_columns)
        rows = self.accepted[[name for name in names if name in self.accepted]].copy()
        for name in rows.columns.intersection(list(of_kind("date"))):
            days = np.datetime_as_string(rows[name].to_numpy(), unit="auto")
            rows[name] = np.where(rows[name].isna(), "", days)
        for name in rows.columns.intersection(list(of_kind("hours"))):
            rows[name] = [as_typed(hours) for hours in rows[name].tolist()]
        for name in rows.columns.intersection(list(of_kind("yes or no"))):
            rows[name] = np.where(rows[name], "yes", "")
        rows.to_csv(path, index=False, lineterminator="\n")
