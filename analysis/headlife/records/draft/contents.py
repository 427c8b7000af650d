"""What do the cells of a column look like: days, growing hours, serials, a few words?

Answers from the distinct texts of a column, for a draft that a person confirms. It reads no value
that is used afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from headlife.plain_text import clean, plain
from headlife.records.cells import read_yes
from headlife.records.dates import NO_DAY, NO_YEAR, DateReadings, date_readings
from headlife.records.draft.vocabulary import EVENTS, POSITIONS, REASONS, ROLES, share_that_fits
from headlife.records.hours import HourReadings, hour_readings
from headlife.records.written import DASHES

_MOST_TEXTS: Final = 2_000  # distinct texts looked at; more of a column say no more
_LONGEST_SERIAL: Final = 24


@dataclass(frozen=True)
class Contents:
    """What the filled cells of a column look like."""

    texts: Counter[str]
    """Distinct texts, trimmed, with how often each stands there; blank cells left out."""
    rows: int
    """Rows of the table."""
    days: float
    """Share of texts that are a day [-]."""
    hours: float
    """Share of texts that are a number of hours and no day [-]."""
    serials: float
    """Share of texts that look like a serial: short, one word, with a digit [-]."""
    roles: float
    """Share of texts that name a role [-]."""
    positions: float
    """Share of texts that name a position in a printer [-]."""
    events: float
    """Share of texts that name an event [-]."""
    reasons: float
    """Share of texts that name a reason of removal [-]."""
    answers: float
    """Share of texts that are yes or no [-]."""

    @property
    def filled(self) -> int:
        """Cells that are not blank."""
        return self.texts.total()

    @property
    def words(self) -> bool:
        """True for a few words that repeat."""
        return 0 < len(self.texts) <= max(2, self.filled / 2) and self.days + self.hours < 1


def contents_of(cells: Iterable[str], rows: int) -> Contents:
    """Look at the cells of one column.

    Parameters
    ----------
    cells : iterable of str
        As written; blank ones are left out.
    rows : int
        Rows of the table.

    Returns
    -------
    Contents
        What they hold.
    """
    texts = Counter(text for cell in cells if (text := clean(cell)) and plain(text) not in DASHES)
    sample = [text for text, _ in texts.most_common(_MOST_TEXTS)]
    days = [_means_a_day(text) for text in sample]
    numbers = [isinstance(hour_readings(text), HourReadings) for text in sample]
    return Contents(
        texts,
        rows,
        days=_share(days),
        hours=_share([number and not day for number, day in zip(numbers, days, strict=True)]),
        serials=_share([_is_serial(text) for text in sample]),
        roles=share_that_fits(sample, ROLES.values()),
        positions=share_that_fits(sample, POSITIONS.values()),
        events=share_that_fits(sample, EVENTS.values()),
        reasons=share_that_fits(sample, REASONS.values()),
        answers=_share([isinstance(read_yes(text), bool) for text in sample]),
    )


def _means_a_day(text: str) -> bool:
    """Tell whether a text is a day, or lacks its day or its year and is no number."""
    reading = date_readings(text)
    if reading in (NO_DAY, NO_YEAR):
        return text.endswith(".") or not isinstance(hour_readings(text), HourReadings)
    return isinstance(reading, DateReadings)


def _share(hits: Sequence[bool]) -> float:
    return sum(hits) / len(hits) if hits else 0.0


def _is_serial(text: str) -> bool:
    return len(text) <= _LONGEST_SERIAL and " " not in text and any(c.isdigit() for c in text)
