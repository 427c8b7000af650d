"""Does material, printer, site or role matter, and by how many hours?

From lives of one mode with labels: a likelihood ratio held against simulated fleets without any
difference for whether there is one, which stays honest with few failures; levels with few are put
together, and in every simulated fleet those that have few there, since the choice of what is
compared is chance too. The hours that heads of each level reach, one shape for all levels; and for
a factor that matters the size of the difference in hours by accelerated-failure-time regression
(lifelines). Several questions put to one record are answered with Holm's correction. Never says
why heads differ.

Source: Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapter 17.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.diagnostics.regression import regress
from headlife.life.diagnostics.replicas import (
    DOUBT,
    RECORDS,
    Ages,
    FloatArray,
    Replicas,
    affordable,
    ages_of,
    batch_fits,
    bootstrap_p_value,
    holm,
    replicate,
    sampled,
)
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FAILURES: Final = 3  # of a level before its life is estimated
OTHERS: Final = "others"
_CELLS: Final = 20_000  # levels times simulated fleets worked on at once
_DIFFERENCES: Final = ["difference", "difference_low", "difference_high"]


@dataclass(frozen=True)
class Effect:
    """How life differs between the levels of one factor."""

    factor: str
    """What was compared: material, printer, site, role."""
    table: pd.DataFrame
    """`level`, `heads`, `failures`, `hours` (age that `share` of its heads reach) with `low` and
    `high` (90 %); where the factor matters, `difference` from the level with most failures [h]
    with its `difference_low` and `difference_high`; NaN where a level has too few failures."""
    share: float
    """Share of heads the hours are about [-]."""
    p_value: float
    """Share of simulated fleets without any difference that look as different [-], corrected
    for the number of factors; NaN when there is not enough to tell."""

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return bool(np.isfinite(self.p_value))

    @property
    def matters(self) -> bool:
        """Whether a difference is beyond what chance makes of few failures."""
        return self.enough and self.p_value < DOUBT

    @property
    def ends(self) -> tuple[Any, Any] | None:
        """The rows of the levels whose heads last longest and shortest; None with one known."""
        known = self.table[self.table["hours"].notna()]
        if len(known) < 2:
            return None
        rows: list[Any] = list(known.itertuples(index=False))
        return max(rows, key=lambda row: row.hours), min(rows, key=lambda row: row.hours)


def compare_levels(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    labels: Mapping[str, ArrayLike],
    *,
    share: float = 0.90,
    seed: int = 1,
    records: int = RECORDS,
) -> tuple[Effect, ...]:
    """Compare the lives of heads by one label at a time.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        Lives, as for `Evidence.from_lives`, (n,); of more than 5,000 a sample is looked at.
    labels : mapping of str to float or array of float
        Factor name to one label per head, (n,); heads without a label are left out there.
    share : float, optional
        Compare the ages that this share of heads reach [-].
    seed, records : int, optional
        Of the simulated fleets without any difference, and how many.

    Returns
    -------
    tuple of Effect
        One effect per label, in the order given; labels that do not differ among heads are left
        out.

    Raises
    ------
    EvidenceError
        Ages that make no sense, or labels of another length.
    """
    every = ages_of(entry_hours, exit_hours, failed)
    rows = sampled(every, seed)
    ages = every.part(rows)
    records = affordable(records, rows.size)
    found = []
    for number, (factor, values) in enumerate(labels.items()):
        level = _labels(factor, values, every.exit.size)[rows]
        rng = np.random.default_rng([seed, number])
        found.append(_effect(factor, ages, level, share, records, rng))
    adjusted = holm(np.array([effect.p_value for effect, _ in found]))
    corrected = [
        (replace(effect, p_value=float(p)), compared)
        for (effect, compared), p in zip(found, adjusted, strict=True)
    ]
    return tuple(_sized(effect, *compared) for effect, compared in corrected)


def _effect(
    factor: str,
    ages: Ages,
    level: NDArray[np.str_],
    share: float,
    records: int,
    rng: np.random.Generator,
) -> tuple[Effect, tuple[Ages, FloatArray]]:
    """One factor: its table without differences, its p-value, and what was compared."""
    some = level != ""
    ages, level = ages.part(some), level[some]
    names, place = _levels(level, ages.failed)
    groups = (place[:, None] == np.arange(len(names))).astype(float)
    table = _level_table(ages, names, groups, share)
    every = _every_level(level)
    own = batch_fits(ages.entry, ages.exit[None, :], ages.failed[None, :])
    told = (table["failures"] >= FEWEST_FAILURES).sum() >= 2
    if not told or not np.isfinite(own.log_shape[0]):
        return Effect(factor, table, share, np.nan), (ages, groups)
    twins = replicate(ages, *own.weibull, records, rng)
    found = _ratio(Replicas(ages.entry, ages.exit[None, :], ages.failed[None, :]), every)
    p_value = bootstrap_p_value(float(found[0]), _ratio(twins, every))
    return Effect(factor, table, share, p_value), (ages, groups)


def _every_level(level: NDArray[np.str_]) -> FloatArray:
    """Membership of every level that could have enough failures, and of the rest, (n, levels)."""
    names, place, heads = np.unique(level, return_inverse=True, return_counts=True)
    large = np.flatnonzero(heads >= FEWEST_FAILURES)
    rest = np.flatnonzero(heads < FEWEST_FAILURES)
    order = np.empty(names.size, int)
    order[large], order[rest] = np.arange(large.size), large.size
    members = order[place][:, None] == np.arange(large.size + bool(rest.size))
    return np.asarray(members, float)


def _ratio(records: Replicas, members: FloatArray) -> FloatArray:
    """Log-likelihood of levels apart over all together; NaN where fewer than two can be told."""
    at_once = max(_CELLS // members.shape[1], 1)
    found = np.empty(len(records.exit))
    for start in range(0, len(found), at_once):
        some = slice(start, start + at_once)
        exit_, failed = records.exit[some], records.failed[some]
        apart = batch_fits(records.entry, exit_, failed, members, FEWEST_FAILURES)
        together = batch_fits(records.entry, exit_, failed)
        told = (apart.failures >= FEWEST_FAILURES).sum(axis=1) >= 2
        found[some] = np.where(told, apart.height - together.height, np.nan)
    return found


def _levels(
    level: NDArray[np.str_], failed: NDArray[np.bool_]
) -> tuple[list[str], NDArray[np.int_]]:
    """Names of the levels, most failures first, and each head's; those with few are others."""
    names = sorted(np.unique(level), key=lambda name: (-failed[level == name].sum(), name))
    clear = [str(n) for n in names if failed[level == n].sum() >= FEWEST_FAILURES]
    rest = [str(name) for name in names if str(name) not in clear]
    # a single level with few failures keeps its name
    clear = clear + (rest if len(rest) == 1 else [])
    order = {name: at for at, name in enumerate(clear)}
    place = np.array([order.get(str(name), len(clear)) for name in level], int)
    return clear + ([OTHERS] if len(rest) > 1 else []), place


def _level_table(ages: Ages, names: list[str], groups: FloatArray, share: float) -> pd.DataFrame:
    import pandas as pd

    failures = (ages.failed @ groups).astype(int)
    table = pd.DataFrame(
        {"level": names, "heads": groups.sum(axis=0).astype(int), "failures": failures}
    )
    table[["hours", "low", "high", *_DIFFERENCES]] = np.nan
    known = np.flatnonzero(failures >= FEWEST_FAILURES)
    reference = float(ages.exit.max()) if ages.exit.size else 1.0
    parts = []
    for row in known:
        part = ages.part(groups[:, row] > 0)
        parts.append(
            Evidence.from_lives(part.entry, part.exit, part.failed, reference_hours=reference)
        )
    for at, row in enumerate(known):
        # one shape for all levels, as in the regression, and each its own scale
        life = fit_life(parts[at], companions=[*parts[:at], *parts[at + 1 :]])
        low, high = life.life_bounds(1.0 - share, confidence=0.90)
        table.loc[row, ["hours", "low", "high"]] = life.life(1.0 - share), low, high
    return table


def _sized(effect: Effect, ages: Ages, groups: FloatArray) -> Effect:
    """Add the size of an effect that matters: differences in hours by regression."""
    if not effect.matters:
        return effect
    known = np.flatnonzero(np.isfinite(effect.table["hours"].to_numpy(float)))
    use = np.flatnonzero(groups[:, known].any(axis=1))
    fit = regress(ages.part(use), groups[np.ix_(use, known[1:])])
    if fit is None:
        return effect
    table = effect.table.copy()
    base = fit.hours(effect.share, None)[0]
    for at, row in enumerate(known[1:]):
        factors = (fit.factor(at), *fit.factor_bounds(at))
        table.loc[row, _DIFFERENCES] = [base * (factor - 1.0) for factor in factors]
    return replace(effect, table=table)


def _labels(factor: str, values: ArrayLike, size: int) -> NDArray[np.str_]:
    import pandas as pd

    series = pd.Series(np.asarray(values, dtype=object))
    if len(series) != size:
        raise EvidenceError(f"There are {size} lives but {len(series)} labels of {factor}.")
    return np.asarray(series.where(series.notna(), "").astype(str), dtype=np.str_)
