"""Does an evidence file give lives back? The best attacks we know, on what a site tells.

Shops are invented, their evidence is written exactly and as sites tell it (rounded answers,
`headlife.life.rounded`), and each file is attacked:

- ``sums``: the heads' ages by least squares from the curve, the number of heads and failures known;
  the age of a single failure from the sum of logarithms; the new heads of a quarter from the
  difference of two files. It breaks exact sums.
- ``knowing``: who attacks knows how files are made and how shops are. They invent shops, keep those
  that give the file (or the files of a series) or come nearest, and guess for each head the age
  within 2 % of which most of those heads lie. Where shops are drawn as here, nobody with the file
  alone does better, but for how many shops they invent.
- ``curve``: the same, but with the printed answer alone: heads, failures, the fitted life. This is
  guessing from the published curve, which no file can prevent; a file must not be better.

What the rounding costs stands below it: how far chances pooled from five sites move. With
``--pictures`` and ``--age-step`` it is all asked of files that told more of few heads.

    python -m studies.evidence_attack
    python -m studies.evidence_attack --heads 10 30 --library 50000
    python -m studies.evidence_attack --heads 10 --library 15000 --tested 1500 --pictures 12

A hit is a life within 2 % of a guess of its own. It prints rates and asserts nothing.
Measured with 10 heads and 10,000 shops: least squares finds 99 % of the lives in exact sums and
16 % in what is told; who knows how files are made 18.8 % of all lives (from the curve 19.0 %),
9.8 % of the failures (11.7 %) and 13.6 % of those failed between two quarterly files (15.9 %). The
steps and pictures of `headlife.life.rounded` were chosen by that: with half the step of the ages at
failure a single failure is found in 44 % (from the curve 30 %; 30,000 shops).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final
from unittest import mock

import numpy as np
from scipy.optimize import least_squares, nnls

from headlife.life import also_possible
from headlife.life import rounded as rounding
from headlife.life.evidence import Evidence, pool
from headlife.life.exposure_curve import at_common_nodes, shape_nodes
from headlife.life.groups import Group, GroupEvidence
from headlife.life.many import fit_many
from headlife.life.posterior import fit_life
from headlife.life.rounded import (
    CLAIM_SHARE,
    FEW_AGE_STEP,
    FEW_PICTURES,
    PICTURES,
    AgePicture,
    Picture,
    rounded,
)
from headlife.numbers import Floats
from headlife.scale.rounding import rounding_range

RATED: Final = 1200.0
CLOSE: Final = 0.02
MODE: Final = "wear"
SAME_ENOUGH: Final = 40  # shops, the most alike, that a guess is made from
_TESTED: Final = 300  # records attacked for each number of failures
# Pictures of the ages that few heads may be told by, by how many there are.
_SETS: Final[dict[int, tuple[Picture, ...]]] = {
    3: FEW_PICTURES,
    12: tuple((spread, share) for spread in (0.6, 1.0, 1.7, 3.0) for share in (0.0, 0.25, 0.55)),
    len(PICTURES): PICTURES,
}
_SEEN: Final = np.array([12, 16, 20, 24])  # nodes at which curves are compared
_GRID: Final = np.linspace(
    -5.0, 1.0, 500
)  # log ages over the rating that least squares starts from


@dataclass(frozen=True)
class Record:
    """The heads of one invented site, and what it would write."""

    ages: Floats
    """Ages [h]."""
    failed: Floats
    """Whether each failed."""
    told: tuple[object, ...]
    """The rounded answers, without the ages' scale: failures, shape, picture of the ages."""
    scale: float
    """The greatest age that is told [h]."""
    failures: tuple[int, ...]
    """Failures in each file."""
    file: Floats
    """What the files say, without the scale, as places of which near ones are alike."""
    curve: Floats
    """What the printed answers say, the same."""
    hours: float
    """Hours that the claimed share reaches, as printed [h]."""

    def logs(self, failures: bool) -> Floats:
        """Sorted logarithms of the ages over the hours printed."""
        own = self.ages[self.failed.astype(bool)] if failures else self.ages
        return np.sort(np.log(own / self.hours))


def shop(rng: np.random.Generator, heads: int) -> tuple[Floats, Floats]:
    """Draw the ages [h] of a site's heads and whether they failed.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    heads : int
        How many.

    Returns
    -------
    tuple of array
        Ages [h] and failures, (heads,).
    """
    shape = np.exp(rng.uniform(0.0, np.log(4.0)))
    at_claim = (-np.log(CLAIM_SHARE)) ** (1.0 / shape)
    life = RATED / at_claim * np.exp(rng.uniform(-0.3, 0.3)) * rng.weibull(shape, heads)
    swapped = 1.25 * RATED * np.exp(rng.uniform(-0.4, 0.2)) * rng.uniform(0.05, 1.0, heads)
    return np.minimum(life, swapped), (life <= swapped).astype(float)


def swapped_shop(rng: np.random.Generator, heads: int) -> tuple[Floats, Floats]:
    """Draw the ages [h] of a site that swaps half of its heads at their rating.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    heads : int
        How many.

    Returns
    -------
    tuple of array
        Ages [h] and failures, (heads,).
    """
    shape = rng.uniform(0.8, 4.0)
    at_claim = (-np.log(CLAIM_SHARE)) ** (1.0 / shape)
    life = RATED / at_claim * rng.uniform(0.7, 1.3) * rng.weibull(shape, heads)
    young = RATED * rng.uniform(0.1, 1.3, heads)
    swapped = np.where(rng.random(heads) < 0.5, RATED, young)
    return np.minimum(life, swapped), (life <= swapped).astype(float)


@contextmanager
def as_if_told(pictures: int, age_step: float) -> Iterator[None]:
    """Ask what follows of files that tell more, or less, of few heads.

    Parameters
    ----------
    pictures : int
        Of how many pictures of the ages one is told: 3, 12 or 280.
    age_step : float
        To which the sum of log ages at failure is told [-].

    Yields
    ------
    None
        While they do.
    """
    chosen = _SETS[pictures]
    with (
        mock.patch.multiple(rounding, FEW_PICTURES=chosen, FEW_AGE_STEP=age_step),
        mock.patch.multiple(also_possible, FEW_PICTURES=chosen),
    ):
        yield


def record(ages: Floats, failed: Floats) -> Record:
    """Say what a site with these heads would tell.

    Parameters
    ----------
    ages, failed : array of float
        Ages [h] and whether each failed.

    Returns
    -------
    Record
        The heads and the rounded answers.
    """
    evidence = exact(ages, failed)
    made_up, picture = told(evidence)
    assert picture is not None
    failures = int(evidence.failures)
    shape = made_up.log_sum - failures * np.log(picture.up_to_hours / RATED) if failures else 0.0
    exactly, printed = fit_life(evidence), fit_life(made_up)
    hours = printed.median_life(1.0 - CLAIM_SHARE)
    # The curve that is told, its scale taken out, says picture and shape at once.
    places = shape_nodes(made_up.log_curve.size)[_SEEN]
    form = made_up.log_curve[_SEEN] / places - np.log(hours / RATED)
    return Record(
        ages=ages,
        failed=failed,
        told=(failures, round(shape, 4), picture.spread, picture.together),
        scale=picture.up_to_hours,
        failures=(failures,),
        file=np.append(form, np.log(printed.shape_bounds(1e-6)[0])),
        curve=np.log([exactly.shape_bounds(1e-6)[0]]),
        hours=hours,
    )


def quarters_later(rng: np.random.Generator, heads: int, quarters: int = 1) -> Record:
    """Say what a site tells in files that are a quarter apart; heads that failed since are sought.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    heads : int
        How many; nothing else happens to them but that they run on, and fail.
    quarters : int
        Files after the first.

    Returns
    -------
    Record
        The last record, in which only those that failed since the first file count as failed, with
        what all the files say.
    """
    shape = np.exp(rng.uniform(0.0, np.log(4.0)))
    at_claim = (-np.log(CLAIM_SHARE)) ** (1.0 / shape)
    life = RATED / at_claim * np.exp(rng.uniform(-0.3, 0.3)) * rng.weibull(shape, heads)
    ran = 1.25 * RATED * np.exp(rng.uniform(-0.4, 0.2)) * rng.uniform(0.05, 1.0, heads)
    ends = [ran + 0.2 * RATED * turn / quarters for turn in range(quarters + 1)]
    files = [record(np.minimum(life, end), (life <= end).astype(float)) for end in ends]
    # How far the printed hours move from file to file is said by both.
    moves = np.diff(np.log([one.hours for one in files]))
    return replace(
        files[-1],
        failed=files[-1].failed - files[0].failed,
        told=tuple(one.told for one in files),
        failures=tuple(one.failures[0] for one in files),
        file=np.concatenate([*(one.file for one in files), moves]),
        curve=np.concatenate([*(one.curve for one in files), moves]),
    )


def exact(ages: Floats, failed: Floats) -> Evidence:
    """Give the exact sums of a site's lives.

    Parameters
    ----------
    ages, failed : array of float
        Ages [h] and whether each failed.

    Returns
    -------
    Evidence
        Their evidence.
    """
    return Evidence.from_lives(0.0, ages, failed.astype(bool), reference_hours=RATED)


def told(evidence: Evidence) -> tuple[Evidence, AgePicture | None]:
    """Give what a site tells of exact sums.

    Parameters
    ----------
    evidence : Evidence
        The exact sums.

    Returns
    -------
    tuple of Evidence and AgePicture or None
        Made-up evidence with the same rounded answers, and its picture of the ages.
    """
    group = GroupEvidence(Group("A", "model"), RATED, int(evidence.heads), {MODE: evidence})
    made_up, picture = rounded(group, MODE)
    return made_up.modes[MODE], picture


def by_least_squares(log_curve: Floats, heads: int, starts: int = 2) -> Floats:
    """Attack a curve: the ages whose sums it holds.

    Parameters
    ----------
    log_curve : array of float
        Logarithm of the curve [-] at the nodes, (nodes,).
    heads : int
        How many ages are looked for.
    starts : int
        How many starts besides that from a nonnegative deconvolution.

    Returns
    -------
    array of float
        Ages [h], (heads,), sorted.
    """
    shapes = shape_nodes(log_curve.size)
    powers = np.exp(shapes[:, None] * _GRID - log_curve[:, None])
    weights, _ = nnls(powers, np.ones(shapes.size), maxiter=20_000)
    places = np.cumsum(weights) / max(weights.sum(), 1e-300)
    middle = (np.arange(heads) + 0.5) / heads
    begin = np.interp(middle, places, _GRID)

    def off(logs: Floats) -> Floats:
        each = shapes[:, None] * logs
        top = each.max(axis=1, keepdims=True)
        total = np.log(np.exp(each - top).sum(axis=1)) + top[:, 0]
        return np.asarray(total - log_curve)

    rng = np.random.default_rng(0)
    begins = [begin, *(begin + 0.2 * rng.standard_normal(heads) for _ in range(starts))]
    stop = {"xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-15, "max_nfev": 200}
    found = [least_squares(off, one, **stop) for one in begins]
    best = min(found, key=lambda one: float(one.cost))
    return np.sort(np.exp(best.x)) * RATED


def hits(guesses: Floats, true: Floats) -> int:
    """Count the lives within 2 % of a guess of their own, the most that can be paired.

    Parameters
    ----------
    guesses, true : array of float
        Ages [h].

    Returns
    -------
    int
        Lives found.
    """
    one, other = np.sort(guesses), np.sort(true)
    i = j = found = 0
    while i < one.size and j < other.size:
        if abs(one[i] / other[j] - 1.0) <= CLOSE:
            i, j, found = i + 1, j + 1, found + 1
        elif one[i] < other[j]:
            i += 1
        else:
            j += 1
    return found


def best_guesses(logs: Floats) -> Floats:
    """Guess for each place in the order of ages where most invented shops have theirs.

    Parameters
    ----------
    logs : array of float
        Sorted log ages of shops with the same file, (shops, heads).

    Returns
    -------
    array of float
        Ages over the scale that was taken out [-], (heads,).
    """
    guesses = []
    for column in np.sort(logs, axis=0).T:
        inside = np.searchsorted(column, column + 2.0 * CLOSE, side="right")
        guesses.append(column[int(np.argmax(inside - np.arange(column.size)))] + CLOSE)
    return np.asarray(np.exp(guesses), float)


@dataclass(frozen=True)
class Rates:
    """How often lives were found."""

    file: float
    """From the file, knowing how it is made [-]."""
    curve: float
    """From the printed answer alone, as many invented shops behind each guess [-]."""
    lives: int
    """Lives attacked [heads]."""


def know_and_guess(
    library: Sequence[Record], rng: np.random.Generator, failures: bool, tested: int = _TESTED
) -> dict[int, Rates]:
    """Attack files of a library of shops with all others of it, by number of failures.

    Parameters
    ----------
    library : sequence of Record
        Shops drawn alike.
    rng : numpy.random.Generator
        Chooses as many shops behind a guess from the curve as there are behind one from the file.
    failures : bool
        Whether only failures are looked for, or every head.
    tested : int
        Records attacked, at most, of those with the same failures.

    Returns
    -------
    dict of int to Rates
        By number of failures.
    """
    alike: dict[tuple[int, ...], list[int]] = {}
    for place, one in enumerate(library):
        alike.setdefault(one.failures, []).append(place)
    counts: dict[int, list[int]] = {}
    for same in alike.values():
        if len(same) <= SAME_ENOUGH:
            continue
        own = [library[k] for k in same]
        logs = np.array(
            [one.logs(failures) for one in own if one.failed.sum() == own[0].failed.sum()]
        )
        if len(logs) < len(own) or not logs.shape[1]:
            continue
        chosen = rng.permutation(len(own))[:tested]
        total = counts.setdefault(int(own[0].failed.sum()), [0, 0, 0])
        for column, places in enumerate(
            (np.array([one.file for one in own]), np.array([one.curve for one in own]))
        ):
            for k in chosen:
                guess = best_guesses(logs[_nearest_others(places, int(k), rng)])
                total[column] += hits(guess, np.exp(logs[k]))
        total[2] += chosen.size * logs.shape[1]
    return {
        seen: Rates(found[0] / found[2], found[1] / found[2], found[2])
        for seen, found in sorted(counts.items())
    }


def _nearest_others(places: Floats, one: int, rng: np.random.Generator) -> np.ndarray:
    """Those nearest to one of the places, each coordinate in its own spread; ties at random."""
    spread = np.maximum(places.std(axis=0), 1e-12)
    away = np.square((places - places[one]) / spread).sum(axis=1)
    away[one] = np.inf
    return np.lexsort((rng.random(away.size), away.round(9)))[:SAME_ENOUGH]


@dataclass(frozen=True)
class SumsBroken:
    """What least squares finds, from exact sums and from what sites tell."""

    exact: float
    """Of all lives, from exact sums [-]."""
    told: float
    """Of all lives, from what is told [-]."""
    new_exact: float
    """Of the heads new in a quarter, from the difference of two exact files [-]."""
    new_told: float
    """The same from what is told [-]."""
    single_exact: float
    """Of single failures, from exact sums [-]; NaN where no record has exactly one."""
    single_told: float
    """The same from what is told [-]."""
    chance: float
    """The most that a verdict moved, of a chance [-]."""


def break_sums(rng: np.random.Generator, heads: int, records: int) -> SumsBroken:
    """Attack sums by least squares, one file and two of a series.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    heads : int
        Heads in the first file; the second one has a tenth more, two at least.
    records : int
        How many shops.

    Returns
    -------
    SumsBroken
        Shares of lives found.
    """
    more = max(heads // 10, 2)
    found = np.zeros(4)
    single: list[tuple[int, int]] = []
    moved = 0.0
    for _ in range(records):
        ages, failed = shop(rng, heads + more)
        first, second = exact(ages[:heads], failed[:heads]), exact(ages, failed)
        for column, (one, two) in enumerate(((first, second), (told(first)[0], told(second)[0]))):
            found[column] += hits(by_least_squares(one.log_curve, heads), ages[:heads])
            found[2 + column] += _new_heads(one, two, ages[heads:])
        chances = [_chance(one) for one in (first, told(first)[0])]
        moved = max(moved, abs(chances[0] - chances[1]))
        if first.failures == 1:
            true = ages[:heads][failed[:heads] > 0]
            guesses = [RATED * np.exp(np.array([e.log_sum])) for e in (first, told(first)[0])]
            single.append((hits(guesses[0], true), hits(guesses[1], true)))
    singles = np.array(single, float).mean(axis=0) if single else np.full(2, np.nan)
    all_heads, new = records * heads, records * more
    return SumsBroken(
        found[0] / all_heads,
        found[1] / all_heads,
        found[2] / new,
        found[3] / new,
        float(singles[0]),
        float(singles[1]),
        moved,
    )


def _new_heads(one: Evidence, two: Evidence, true: Floats) -> int:
    """Look for the heads by which a second file is larger than the first."""
    first, second = at_common_nodes([one.log_curve, two.log_curve])
    with np.errstate(invalid="ignore", divide="ignore"):
        left = second + np.log(-np.expm1(first - second))
    if not np.isfinite(left).all():
        return 0  # less exposure than before: no heads give that
    return hits(by_least_squares(left, true.size), true)


def _chance(evidence: Evidence) -> float:
    return float(fit_life(evidence).probability_reliability_above(CLAIM_SHARE, RATED))


def pooled_moves(
    rng: np.random.Generator,
    pools: int,
    sites: int = 5,
    drawn: Callable[[np.random.Generator, int], tuple[Floats, Floats]] = shop,
) -> Floats:
    """Pool sites exactly and as told: the chances that the claim is true, and their range.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    pools : int
        How many times.
    sites : int
        How many are pooled, of 10 to 100 heads each and lives of their own.
    drawn : callable
        Draws a site's ages and failures.

    Returns
    -------
    array of float
        From exact sums, as told, and the lowest and highest one said to be possible from what is
        told [-], (pools, 4).
    """
    chances = []
    for _ in range(pools):
        parts = [exact(*drawn(rng, int(rng.choice([10, 14, 30, 100])))) for _ in range(sites)]
        made_up, pictures = zip(*map(told, parts), strict=True)
        possible = rounding_range(made_up, pictures, _chances)
        assert possible is not None
        chances.append([_chance(pool(parts)), _chance(pool(list(made_up))), *possible])
    return np.array(chances)


def _chances(pools: list[Evidence]) -> list[float]:
    return list(map(float, fit_many(pools).probability_reliability_above(CLAIM_SHARE, RATED)))


def same_file(rng: np.random.Generator, one: Record, most: int = 20_000) -> Record:
    """Build another record, every life another one, that gives the very same file.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of random numbers.
    one : Record
        A record.
    most : int
        Shops invented before it gives up.

    Returns
    -------
    Record
        Another record with the same rounded answers, its scale too.

    Raises
    ------
    LookupError
        None was found.
    """
    for _ in range(most):
        other = record(*shop(rng, one.ages.size))
        if other.told != one.told:
            continue
        # Stretched until its chance is the one told; a few steps, since chances are rounded.
        for _ in range(30):
            if other.scale == one.scale:
                return other
            other = record(other.ages * (one.scale / other.scale), other.failed)
    raise LookupError("No other record was found; invent more.")


def main(arguments: Sequence[str] | None = None) -> int:
    """Attack, and print what was found.

    Parameters
    ----------
    arguments : sequence of str, optional
        Of the command line.

    Returns
    -------
    int
        Exit code: 0.
    """
    parser = argparse.ArgumentParser(prog="python -m studies.evidence_attack", description=__doc__)
    parser.add_argument("--heads", type=int, nargs="+", default=[10, 14, 30, 60])
    parser.add_argument("--records", type=int, default=40, help="shops for least squares")
    parser.add_argument("--library", type=int, default=10_000, help="shops invented by who knows")
    parser.add_argument(
        "--quarters", type=int, nargs="*", default=[1], help="files after the first"
    )
    parser.add_argument("--pools", type=int, default=300, help="times five sites are pooled")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tested", type=int, default=_TESTED, help="files attacked of a kind")
    parser.add_argument("--pictures", type=int, choices=list(_SETS), default=len(FEW_PICTURES))
    parser.add_argument("--age-step", type=float, default=FEW_AGE_STEP, help="of few heads")
    args = parser.parse_args(arguments)
    with as_if_told(args.pictures, args.age_step):
        _attack(args)
        for drawn, words in ((shop, "staggered"), (swapped_shop, "half swapped at their rating")):
            print(f"\nchances pooled from five sites, heads {words}")
            rng = np.random.default_rng([args.seed, 2])
            _print_pooled(pooled_moves(rng, args.pools, drawn=drawn))
    return 0


def _attack(args: argparse.Namespace) -> None:
    if args.records:
        print("lives within 2 %      exact sums   as told")
    for heads in args.heads if args.records else ():
        rng = np.random.default_rng([args.seed, heads])
        _print_broken(heads, break_sums(rng, heads, args.records))
    print("\nknowing how files are made     from the file   from the curve   lives")
    for heads in args.heads:
        rng = np.random.default_rng([args.seed, heads, 1])
        library = [record(*shop(rng, heads)) for _ in range(args.library)]
        for failures, words in ((False, "all heads"), (True, "failures")):
            _print_rates(heads, words, know_and_guess(library, rng, failures, args.tested))
        for quarters in args.quarters:
            series = [quarters_later(rng, heads, quarters) for _ in range(args.library)]
            words = f"failed since the first of {quarters + 1} files"
            _print_rates(heads, words, know_and_guess(series, rng, failures=True))


def _print_pooled(chances: Floats) -> None:
    points = 100.0 * np.abs(chances[:, 1] - chances[:, 0])
    verdicts = (chances >= 0.95).astype(int) - (chances <= 0.05).astype(int)
    left_open = verdicts[:, 2] != verdicts[:, 3]
    inside = (chances[:, 2] <= chances[:, 0]) & (chances[:, 0] <= chances[:, 3])
    settled, width = verdicts[:, 0] != 0, 100.0 * (chances[:, 3] - chances[:, 2])
    wrong = ~left_open & (verdicts[:, 1] != 0) & (verdicts[:, 0] != verdicts[:, 1])
    print(
        f"      {len(points)} pools: moved by {np.median(points):.2f} points in the middle, "
        f"{np.quantile(points, 0.9):.2f} in one of ten, "
        f"{points.max():.2f} at most; another verdict in "
        f"{np.mean(verdicts[:, 0] != verdicts[:, 1]):.1%}"
    )
    print(
        f"      range said to be possible: {np.median(width):.1f} points wide in the middle, "
        f"{np.quantile(width, 0.9):.1f} in one of ten; holds the chance from exact sums in "
        f"{inside.mean():.1%}; verdicts said that exact sums do not give: {wrong.sum()}; left open "
        f"of {settled.sum()} settled by exact sums: {np.sum(left_open & settled)}"
    )
    for low, high in ((0.0, 0.1), (0.1, 0.9), (0.9, 1.0)):
        inside = (chances[:, 0] >= low) & (chances[:, 0] <= high)
        if inside.any():
            own = points[inside]
            print(
                f"      of chances from {low} to {high}: {np.median(own):.2f} in the middle, "
                f"{np.quantile(own, 0.9):.2f} in one of ten, {own.max():.2f} at most; "
                f"under half a point in {np.mean(own < 0.5):.0%} of {inside.sum()}"
            )


def _print_broken(heads: int, found: SumsBroken) -> None:
    rows: Iterable[tuple[str, float, float]] = (
        ("all", found.exact, found.told),
        ("new in a quarter", found.new_exact, found.new_told),
        ("a single failure", found.single_exact, found.single_told),
    )
    for words, before, after in rows:
        print(f"{heads:4d}, {words:17s} {before:8.1%} {after:10.1%}")
    print(f"      the chance moved by at most {100 * found.chance:.2f} points")


def _print_rates(heads: int, words: str, rates: dict[int, Rates]) -> None:
    lives = sum(one.lives for one in rates.values())
    if not lives:
        print(f"{heads:4d}, {words}: too few shops fail alike; take a larger --library")
        return
    file, curve = (
        sum(getattr(one, name) * one.lives for one in rates.values()) / lives
        for name in ("file", "curve")
    )
    print(f"{heads:4d}, {words}")
    print(f"      {'all':16s} {'':7s} {file:8.1%} {curve:16.1%} {lives:12,d}")
    for seen, one in rates.items():
        print(
            f"      with {seen:2d} failures {'':9s} {one.file:8.1%} {one.curve:16.1%} "
            f"{one.lives:12,d}"
        )


if __name__ == "__main__":
    sys.exit(main())
