"""How did the print hours of the printers vary and grow? Learned from installations.

From how much each printer's hours went up, and between which days: how print hours vary from
quarter to quarter, the part that all printers share and the part of each one, how they vary from
week to week, and how they grow from year to year, as a `Workload`. Never looks ahead.

References
----------
[1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), sections
    2.2 and 2.7: the normal likelihood, and coefficients with a prior, in matrix form.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError
from headlife.fleet.printer_levels import PrinterLevels
from headlife.fleet.stops import Index, stood_still
from headlife.fleet.workload import SHORTEST_WEEKS, Workload
from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_QUARTER, WEEKS_PER_YEAR

# Spreads of the log of a quarter's hours [-] that are weighed against each other.
COMMON: Final = (0.0, 0.06, 0.12, 0.18, 0.25, 0.35, 0.55)
SINGLE: Final = (0.04, 0.10, 0.18, 0.30, 0.55)
BESIDE: Final = (0.0, 0.10, 0.30)  # of the heads of one role beside their printer
WEEKLY: Final = (0.0, 0.2, 0.4, 0.7, 1.1)  # and of the log of a week's hours
# Before the records speak. No source: chosen with `studies.changing_shops`, row workload (seeds 5
# and 6, 200 and 300 shops of a kind). Two or three quarters tell little of how far a quarter
# differs from the next. Of shops that swing together with 32 weeks on record 11.3 % are served
# under .90 with 0.20, 10.7 with 0.25 and 9.7 with 0.30; with 100 weeks 10.3, 8.7 and 7.7. A steady
# shop with 32 weeks holds 0.9 of a head more with 0.30 than with 0.20, one with 100 weeks none.
SPREAD_BEFORE: Final = 0.30  # deviation of a half-normal, of each spread of a quarter [-]
WEEK_BEFORE: Final = 0.5  # the same of a week; own choice: jobs are long and weeks few [-]
GROWTH_BEFORE: Final = 0.10  # deviation of the growth of the log hours in a year [1/year]
_LEVEL_BEFORE: Final = 1.5  # deviation of the log hours a week of a printer, about their mean [-]
# Installations looked at, about: of every printer as many of the latest, and so many at least.
MOST: Final = 100
LEAST: Final = 4
_QUARTER_DAYS: Final = WEEKS_PER_QUARTER * DAYS_PER_WEEK
_YEAR_DAYS: Final = WEEKS_PER_YEAR * DAYS_PER_WEEK
_NO_WEIGHT: Final = 25.0  # log density under the highest from which a spread does not count


def learn_workload(
    printer: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    run_hours: npt.ArrayLike,
    role: npt.ArrayLike | None = None,
) -> Workload:
    """Learn how print hours vary and grow from installations.

    Parameters
    ----------
    printer : array of str
        Printer of each installation, (n,).
    day_in, day_out : array of float
        Days of its first and last reading, counted from any day [days], (n,); the last day on
        record is the day from which forecasts go on.
    run_hours : array of float
        Print hours of the printer between them [h], (n,).
    role : array of str, optional
        Role of the head, (n,): the counters of two roles in one printer may go their own ways.
        Left out, both always run the printer's hours.

    Returns
    -------
    Workload
        The print hours to come.

    Raises
    ------
    DecisionError
        No installation is long enough to tell.

    Notes
    -----
    The log of an installation's hours a week is normal about its printer's level, a trend, and
    means over its quarters of normal factors: a common one, a single one of each printer, and one
    of each role in it, and over its weeks of one of the printer; the spreads are weighed on a grid,
    the rest is a linear model in closed form [1, eq. (2.42), (2.43)]. While a printer stood still
    for long it counts as another one.
    """
    keep = _checked(printer, day_in, day_out, run_hours)
    names = np.atleast_1d(np.asarray(printer, str))[keep]
    start, end, run = (
        np.atleast_1d(np.asarray(values, float))[keep] for values in (day_in, day_out, run_hours)
    )
    printers, printer_of = np.unique(names, return_inverse=True)
    last = float(end.max())
    rate = np.log(run / (end - start) * DAYS_PER_WEEK)
    stood = stood_still(printer_of, start, end, rate)
    who, now = _by_pace(printer_of, end, rate, stood)
    place, beside = _places(who, None if role is None else np.asarray(role, str)[keep])
    centre = float(rate.mean())
    known = _laid_out(rate - centre, start, end, who, place)
    nodes, weights = _weighed(known, beside)
    present = np.bincount(now, minlength=len(known.values)).astype(float)
    found = [known.levels(node, present) for node in nodes]
    means = np.array([one.means for one in found])
    means[:, :-1] += centre
    kept = np.append(now, len(known.values))  # the present pace of every printer, and the growth
    return Workload(
        printers=tuple(str(name) for name in printers),
        nodes=nodes,
        weights=weights,
        means=means[:, kept],
        variances=np.array([one.variances for one in found])[:, kept],
        with_growth=np.array([one.with_growth for one in found])[:, now],
        together=np.array([one.together for one in found]),
        quarters=float((last - start.min()) / _QUARTER_DAYS),
        installations=int(rate.size),
        stood=frozenset(printers[printer_of[stood & np.isin(who, now)]].tolist()),
    )


def _laid_out(
    values: Floats, start: Floats, end: Floats, who: Index, place: Index
) -> PrinterLevels:
    """Lay installations out pace by pace."""
    last = float(end.max())
    order = np.argsort(who, kind="stable")
    counts = np.bincount(who)
    turn = np.arange(order.size) - np.repeat(np.cumsum(counts) - counts, counts)
    at = who[order], turn
    shape = counts.size, int(counts.max())

    def by_pace(each: Floats) -> Floats:
        laid = np.zeros((*shape, *each.shape[1:]))
        laid[at] = each[order]
        return laid

    inside = by_pace(np.ones(order.size))
    # Quarters are counted back from the last day, so that those to come are new ones.
    shares = by_pace(_shares(last - end, last - start, _QUARTER_DAYS))
    both = inside[:, :, None] * inside[:, None, :]
    together = np.einsum("pkq,plq->pkl", shares, shares)
    places = by_pace(place.astype(float))
    beside = together * (places[:, :, None] == places[:, None, :])
    weeks = _weeks_shared(by_pace(start), by_pace(end), both)
    return PrinterLevels(
        values=by_pace(values),
        inside=inside,
        middle=by_pace((0.5 * (start + end) - last) / _YEAR_DAYS),
        shares=shares,
        kernels=np.array([together, beside, weeks]),
        dates=by_pace(2.0 / (end - start) ** 2),  # readings are of whole days
        level=_LEVEL_BEFORE,
        growth=GROWTH_BEFORE,
    )


def _by_pace(
    who: Index, end: Floats, rate: Floats, stood: npt.NDArray[np.bool_]
) -> tuple[Index, Index]:
    """Give every installation its pace, and every printer today's.

    One is that of a printer that prints; each installation during which it stood has its own.
    """
    pace = who.copy()
    pace[stood] = who.max() + 1 + np.arange(np.count_nonzero(stood))
    pace = np.unique(pace, return_inverse=True)[1]
    order = np.lexsort((rate, -end, who))  # what ended last, of several the slowest
    return pace, pace[order[np.unique(who[order], return_index=True)[1]]]


def _checked(
    printer: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    run_hours: npt.ArrayLike,
) -> npt.NDArray[np.intp]:
    """Find installations that are long enough to tell, of every printer the latest."""
    names = np.atleast_1d(np.asarray(printer, str))
    start, end, run = (
        np.atleast_1d(np.asarray(values, float)) for values in (day_in, day_out, run_hours)
    )
    keep = latest(names, start, end, run)
    if not keep.size:
        raise DecisionError(
            "No installation on record ran for two weeks or more, so nothing can be learned of how "
            "print hours vary; state them in [usage]."
        )
    return keep


def latest(
    printer: npt.NDArray[np.str_], start: Floats, end: Floats, run: Floats
) -> npt.NDArray[np.intp]:
    """Find the latest installations of every printer that are long enough; see `MOST`.

    Those of a part of a record hold all that the whole would keep of it, in an order that does
    not depend on the order given.

    Parameters
    ----------
    printer : array of str
        Printer of each installation, (n,).
    start, end, run : array of float
        First and last day [days] and print hours between them [h], (n,).

    Returns
    -------
    array of int
        Which they are.
    """
    tells = np.flatnonzero((end - start >= SHORTEST_WEEKS * DAYS_PER_WEEK) & (run > 0))
    printers, who = np.unique(printer[tells], return_inverse=True)
    order = np.lexsort((-run[tells], -start[tells], -end[tells], who))
    place = who[order]
    first = np.flatnonzero(np.r_[True, place[1:] != place[:-1]])
    turn = np.arange(order.size) - np.repeat(first, np.diff(np.r_[first, order.size]))
    kept: npt.NDArray[np.intp] = tells[order[turn < max(-(-MOST // max(printers.size, 1)), LEAST)]]
    return kept


def _weighed(known: PrinterLevels, beside: Sequence[float]) -> tuple[Floats, Floats]:
    """Spreads that count, (nodes, 4) [-], and the posterior weight of each."""
    given = [np.array(values) for values in (COMMON, SINGLE, beside, WEEKLY)]
    scale = np.array([SPREAD_BEFORE, SPREAD_BEFORE, SPREAD_BEFORE, WEEK_BEFORE])

    def height(place: tuple[int, ...]) -> float:
        spreads = np.array([values[at] for values, at in zip(given, place, strict=True)])
        return known.height(spreads) - 0.5 * float(np.square(spreads / scale).sum())

    # Most spreads do not count: from a few, only the neighbours of those that do are looked at.
    found: dict[tuple[int, ...], float] = {}
    new = set(product(*(range(0, values.size, 2) for values in given)))
    while new:
        found |= {place: height(place) for place in sorted(new)}
        least = max(found.values()) - _NO_WEIGHT
        new = {
            near
            for place, value in found.items()
            if value >= least
            for near in _neighbours(place, [values.size for values in given])
        } - found.keys()
    places = np.array(sorted(place for place, value in found.items() if value >= least))
    heights = np.array([found[tuple(place)] for place in places.tolist()])
    widths = [np.gradient(values) if values.size > 1 else np.ones(1) for values in given]
    sizes = np.prod([width[at] for width, at in zip(widths, places.T, strict=True)], axis=0)
    weights = np.exp(heights - heights.max()) * sizes
    nodes = np.column_stack([values[at] for values, at in zip(given, places.T, strict=True)])
    return nodes, np.asarray(weights / weights.sum(), float)


def _neighbours(place: tuple[int, ...], sizes: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Places of a grid one step away."""
    for axis, size in enumerate(sizes):
        for step in (-1, 1):
            if 0 <= place[axis] + step < size:
                yield (*place[:axis], place[axis] + step, *place[axis + 1 :])


def _weeks_shared(start: Floats, end: Floats, both: Floats) -> Floats:
    """Covariance within a pace of means over weeks that vary by themselves, (p, k, k)."""
    shared = np.minimum(end[:, :, None], end[:, None]) - np.maximum(
        start[:, :, None], start[:, None]
    )
    length = np.where(end > start, end - start, 1.0)
    lengths = length[:, :, None] * length[:, None, :]
    return np.asarray(np.maximum(shared, 0.0) * both * DAYS_PER_WEEK / lengths, float)


def _shares(near: Floats, far: Floats, width: float) -> Floats:
    """Share of each stretch that lies in each of the equal steps from 0 on, (n, steps)."""
    steps = int(np.ceil(far.max() / width - 1e-9))
    edges = width * np.arange(steps + 1)
    inside = np.minimum(far[:, None], edges[1:]) - np.maximum(near[:, None], edges[:-1])
    return np.asarray(np.maximum(inside, 0.0) / (far - near)[:, None], float)


def _places(
    who: npt.NDArray[np.intp], role: npt.NDArray[np.str_] | None
) -> tuple[npt.NDArray[np.intp], tuple[float, ...]]:
    """Give the roles of every printer numbers, and how far they may go their own ways [-]."""
    if role is None:
        return who, (0.0,)
    roles, which = np.unique(role, return_inverse=True)
    place = who * roles.size + which
    # With one role in every printer its ways are the printer's.
    apart = np.unique(place).size > np.unique(who).size
    return place, BESIDE if apart else (0.0,)
