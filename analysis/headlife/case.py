"""From what is every answer made? Records, the settings they were read with, the day, the seed.

They travel together as one `Case`, checked once, so that they cannot be mixed: lives, fleet and
posteriors are those of its own records and day, worked out when first asked for. A case with
something changed is another case, from `Case.with_`. Decides nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from headlife import __version__
from headlife.display import shows_itself
from headlife.errors import HeadlifeError, SettingsError
from headlife.fleet.reduction import fleet_of, fleet_part
from headlife.life.by_lot import LifeByLot, lives_by_lot
from headlife.life.groups import Group, GroupEvidence, fit_modes
from headlife.life.reduction import group_evidence
from headlife.progress import Progress
from headlife.records.as_of import day_of, refuse_long_after
from headlife.records.audit import said_with_answers
from headlife.records.lives import lives
from headlife.records.record_set import Records
from headlife.records.table import read_records
from headlife.shop import Shop, read_shop
from headlife.shop.columns import RATING

if TYPE_CHECKING:
    from headlife.fleet.state import Fleet
    from headlife.life.posterior import Life

# Tables of the settings that rows are read and judged by; with others the file must be read again.
_READ_BY: Final = ("intake", "columns", "own_columns", "roles", "positions", "reasons")


@dataclass(frozen=True)
class Provenance:
    """What an answer was made from; the first fields of every answer that is shown."""

    shop_name: str
    """Name of the shop."""
    as_of: pd.Timestamp
    """Day on which the records are looked at."""
    source: str
    """Name of the records file."""
    records_sha256: str
    """SHA-256 of the records file."""
    shop_sha256: str
    """SHA-256 of the settings file."""
    seed: int
    """Seed of the random numbers."""
    version: str
    """Version of headlife."""
    rows_read: int
    """Rows in the records [-]."""
    rows_accepted: int
    """Rows used [-]."""
    rows_no_record: int
    """Rows that are no records: sums, headings, rows that the settings leave out [-]."""
    not_read: tuple[str, ...]
    """Sentences about sheets of the records' files that look like the log and are not read."""
    notes: tuple[str, ...]
    """Sentences about how the records were read where the settings do not state it."""
    changed: tuple[str, ...]
    """Tables of the settings that were changed after the file was read."""


@shows_itself
@dataclass(frozen=True)
class Case:
    """A shop's records with the settings they were read with, on one day.

    Raises
    ------
    SettingsError
        The records were read with other settings than the shop's.
    RecordsError
        Something must be stated before anything is answered; rows were set aside and the settings
        say to stop then; or the day is not a date or before the first record.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> case = hl.Case(hl.read_records("data_demo/removals.csv", shop), shop)
    >>> print(case.day.date(), case.seed, case.with_(seed=7).seed)
    2026-09-30 1 7
    """

    records: Records
    """What `read_records` returned; its `shop` is this case's."""
    shop: Shop
    """The settings: those the records were read with, or changed from them by `Shop.with_`."""
    as_of: pd.Timestamp | None = None
    """Look at the records as they were known at the end of this day; None for all of them."""

    def __post_init__(self) -> None:
        _refuse_other_settings(self.records, self.shop)
        day = None if self.as_of is None else pd.Timestamp(day_of(self.as_of))
        self.records.raise_if_not_settled()
        if self.shop.review.set_aside == "stop":
            self.records.raise_if_set_aside()
        if day is not None and len(self.records.accepted):
            newest = self.records.accepted["date_out"].to_numpy().max()
            refuse_long_after(day.to_datetime64(), newest, self.records.source)
        object.__setattr__(self, "as_of", day)
        object.__setattr__(self, "records", replace(self.records, shop=self.shop))

    @property
    def seed(self) -> int:
        """Seed of the random numbers."""
        return self.shop.review.seed

    @property
    def provenance(self) -> Provenance:
        """What an answer from this case is made from; enough to make the same answer again."""
        return Provenance(
            shop_name=self.shop.name,
            as_of=self.day,
            source=self.records.source,
            records_sha256=self.records.sha256,
            shop_sha256=self.shop.sha256,
            seed=self.seed,
            version=__version__,
            rows_read=self.records.rows_read,
            rows_accepted=self.records.rows_used,
            rows_no_record=len(self.records.no_records),
            not_read=self.records.not_read,
            notes=(*self.records.notes, *said_with_answers(self.records.findings)),
            changed=self.shop.changed,
        )

    @cached_property
    def day(self) -> pd.Timestamp:
        """The day that answers speak of: the one asked for, or the last in the records."""
        if self.as_of is not None:
            return self.as_of
        return pd.Timestamp(self.records.accepted["date_out"].max()).normalize()

    @cached_property
    def lives(self) -> pd.DataFrame:
        """One row per head life, as `headlife.lives` gives them."""
        return lives(self.records, self.as_of)

    @cached_property
    def fleet(self) -> Fleet:
        """What is in service and on the shelf, and how the shop works."""
        # A table is a record of one part.
        part, stints = fleet_part(self.records, self.as_of, self.lives)
        habits = stints.sums(stints.last, self.day, self.shop)
        return fleet_of([part], [habits], self.shop, self.records.source, self.day)

    @cached_property
    def evidence(self) -> tuple[GroupEvidence, ...]:
        """What the lives say, by group of heads."""
        return shop_evidence(self.lives, self.shop)

    @cached_property
    def modes(self) -> dict[Group, list[Life | LifeByLot]]:
        """Posteriors of the failure modes of every head type and role, for forecasts."""
        review = self.shop.review
        pooled = {
            one.group: list(fit_modes(one, review.primary_mode).values())
            for one in self.evidence
            if not one.group.further
        }
        return lives_by_lot(pooled, self.evidence, review.divisions, review.primary_mode)

    def with_(
        self,
        as_of: Any = None,
        seed: int | None = None,
        set_aside: str | None = None,
        **changes: Any,
    ) -> Case:
        """Return the case with something changed.

        Parameters
        ----------
        as_of : date, optional
            Another day.
        seed : int, optional
            Another seed of the random numbers.
        set_aside : {"stop", "continue"}, optional
            What to do about rows that cannot be used.
        **changes : object
            Changes of the settings, as for `Shop.with_`.

        Returns
        -------
        Case
            A new case; this one stays as it is.

        Raises
        ------
        HeadlifeError
            A choice that makes no sense, or one with which the records must be read again.
        """
        shop = self.shop.with_(**changes) if changes else self.shop
        return Case(
            self.records,
            _chosen(shop, seed, set_aside),
            self.as_of if as_of is None else as_of,
        )


def read_case(
    records: str | Path,
    shop: str | Path | Shop,
    as_of: Any = None,
    seed: int | None = None,
    set_aside: str | None = None,
    progress: Progress | None = None,
) -> Case:
    """Read a shop's records and settings as the case that answers are made from.

    Parameters
    ----------
    records : str or Path
        A CSV, XLSX or Parquet table, as for `read_records`.
    shop : str, Path or Shop
        The settings file, or settings from `read_shop`.
    as_of : date, optional
        Look at the records as they were known at the end of this day; default all of them.
    seed : int, optional
        Seed of the random numbers; default the settings'.
    set_aside : {"stop", "continue"}, optional
        What to do when rows cannot be used; default what the settings say.
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    Case
        The case.

    Raises
    ------
    HeadlifeError
        As for `read_shop` and `read_records`; a choice that makes no sense; rows were set aside
        and the settings say to stop then.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> case.day.date().isoformat(), case.seed
    ('2026-09-30', 1)
    """
    given = shop if isinstance(shop, Shop) else read_shop(shop)
    chosen = _chosen(given, seed, set_aside)
    return Case(read_records(records, chosen, progress), chosen, as_of)


def as_case(case: Case | Records, shop: Shop | None = None, as_of: Any = None) -> Case:
    """Take the case that an answer is asked of, or make it from records, settings and day.

    Parameters
    ----------
    case : Case or Records
        A case, or records from `read_records`.
    shop : Shop, optional
        Settings, for records; default those they were read with.
    as_of : date, optional
        Day, for records.

    Returns
    -------
    Case
        The case.

    Raises
    ------
    HeadlifeError
        A case was given settings or a day beside its own; otherwise as for `Case`.
    """
    if not isinstance(case, Case):
        return Case(case, case.shop if shop is None else shop, as_of)
    if shop is not None or as_of is not None:
        raise HeadlifeError(
            "A case holds its own settings and day; ask another case, case.with_(as_of=..., "
            "review={...}), instead of giving them beside it."
        )
    return case


def shop_evidence(lives: pd.DataFrame, shop: Shop) -> tuple[GroupEvidence, ...]:
    """Reduce lives to evidence of every group that the settings ask about.

    Parameters
    ----------
    lives : pandas.DataFrame
        One row per head life.
    shop : Shop
        Its ratings, failure modes and `[review] groups`.

    Returns
    -------
    tuple of GroupEvidence
        Of every head type and role, then of their divisions by further columns.
    """
    found = [
        one
        for further in ((), *shop.divisions)
        for one in group_evidence(
            lives if further != (RATING,) else lives[lives[RATING].notna()],
            shop.rated_hours,
            shop.failure_modes,
            further,
        )
    ]
    return tuple(
        replace(one, rated_hours=shop.rated_hours_of(one.group.head_type, one.group.further))
        for one in found
    )


def _chosen(shop: Shop, seed: int | None, set_aside: str | None) -> Shop:
    """Take the choices made for this run in place of the settings' own."""
    choices = {"seed": seed, "set_aside": set_aside}
    asked = {name: value for name, value in choices.items() if value is not None}
    return shop.with_(review=asked) if asked else shop


def _refuse_other_settings(records: Records, shop: Shop) -> None:
    """Stop where records were read with settings that these do not come from."""
    apart = shop.as_read.tables_unlike(records.shop.as_read)
    if apart:
        raise SettingsError(
            f"{records.source} was read with other settings ({records.shop.name}) than the ones "
            f"asked about ({shop.name}): they differ in {', '.join(apart)}. Read the records with "
            "the settings that you want answers for, or change these by shop.with_(...)."
        )
    unread = [name for name in shop.tables_unlike(records.shop) if name in _READ_BY]
    if unread:
        raise SettingsError(
            f"{records.source} was read before {', '.join(unread)} of the settings "
            "changed, and rows are read by them; read the records again with these settings."
        )
    dropped = set(records.shop.head_types) - set(shop.head_types)
    gone = sorted(dropped & set(records.accepted["head_type"])) if dropped else []
    if gone:
        raise SettingsError(
            f"{records.source} has heads of the type '{gone[0]}', which the changed settings "
            f'leave out; keep [head_types."{gone[0]}"].'
        )
