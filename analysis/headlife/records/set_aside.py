"""Keep the list of rows set aside: each once, with its first fault and every sentence.

Answers which rows have a fault so far, and gives them as a table. It never decides what a fault
is; the readers of cells, the schema and the audit do.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from headlife.records.cells import Problem, quoted, read_name
from headlife.records.columns import Coded
from headlife.records.frames import columns_of

_OF_THE_HEAD = ("head_type", "role", "reason")
_SERIALS = ("head", "head_out", "head_in")


class Aside:
    """Faults found so far, by place in the table: per row the first column, and all sentences."""

    def __init__(self, coded: Coded) -> None:
        self._coded = coded
        self._faulty = np.zeros(coded.rows_read, dtype=bool)
        self._found: dict[int, tuple[str, list[str]]] = {}
        self._heads: dict[int, str] = {}
        self._settled: set[int] = set()
        self._serials = [name for name in _SERIALS if name in coded.codes]
        # Each text is read once, however many rows hold it.
        self._read: dict[tuple[str, int], str | Problem | None] = {}
        for index, sentence in coded.misfits:
            self.add((self._serials or list(coded.codes))[0], [index], sentence)

    def add(
        self, column: str, places: Iterable[int], sentence: str, head: str | None = None
    ) -> None:
        """Set rows aside for what a column holds; the sentence follows column and value.

        Parameters
        ----------
        column : str
            Name of the column.
        places : iterable of int
            Places of the rows, from 0.
        sentence : str
            What is wrong and what to do.
        head : str, optional
            The head it is about.
        """
        for place in places:
            if place in self._settled:
                continue
            if head is not None:
                self._heads[place] = head
            self._faulty[place] = True
            written = self._written(column, place)
            if place not in self._found:
                self._found[place] = (written, [sentence])
            else:
                value = quoted(self._coded.text(written, place))
                self._found[place][1].append(f"{written} {value} {sentence}")

    def instead(self, places: Iterable[int], sentence: str) -> None:
        """Set rows aside for one cause, in place of all that was and will be found in them.

        Parameters
        ----------
        places : iterable of int
            Places of the rows, from 0.
        sentence : str
            What they are and what to do; follows the row's serial.
        """
        column = (self._serials or list(self._coded.codes))[0]
        for place in places:
            self._faulty[place] = True
            self._found[place] = (column, [sentence])
            self._settled.add(place)

    def _written(self, column: str, place: int) -> str:
        """Name the column in which it stands: a meter's readings may stand as hours."""
        if not column.startswith("printer_hours") or self._coded.text(column, place):
            return column
        as_hours = column.removeprefix("printer_")
        return as_hours if self._coded.text(as_hours, place) else column

    def faulty(self) -> np.ndarray:
        """Tell for each row whether it is set aside."""
        return self._faulty.copy()

    def table(self, typed: pd.DataFrame) -> pd.DataFrame:
        """Give the rows set aside, as `frames` describes them.

        Parameters
        ----------
        typed : DataFrame
            All rows as far as they can be read.

        Returns
        -------
        DataFrame
            The table.
        """
        coded = self._coded
        of_the_head = [typed[name].tolist() if name in typed else None for name in _OF_THE_HEAD]
        lines = [
            (
                int(coded.rows[place]),
                column,
                coded.text(column, place),
                "; and ".join(sentences),
                None if place in self._settled else self._heads.get(place) or self._serial(place),
                *(None if values is None else values[place] for values in of_the_head),
            )
            for place, (column, sentences) in sorted(self._found.items())
        ]
        return pd.DataFrame(lines, columns=list(columns_of("set_aside"))).astype({"row": np.int64})

    def _serial(self, place: int) -> str | None:
        """Read the serial of a row's head, where it can be read."""
        for name in self._serials:
            text = name, int(self._coded.codes[name][place])
            if text not in self._read:
                self._read[text] = read_name(self._coded.text(name, place))
            read = self._read[text]
            if read is not None and not isinstance(read, Problem):
                return read
        return None
