"""Is the fitted life fair, and what else do the failures say, in words.

From the findings of `life.diagnostics` and from compared strata, one sentence each, all by
`finding`. Never says more than the test behind it: what cannot be told is said to be so.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import singledispatch
from typing import TYPE_CHECKING, Any, Final

from headlife.life.diagnostics import adequacy, drift, effects, rivals, trend
from headlife.life.strata import Comparison
from headlife.show.plain import lines
from headlife.show.words.numbers import counted, decimals, hours, in_100, listed, percent, whole

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Division
    from headlife.life.posterior import Life

_ADVICE: Final = {
    "pool": "No difference between them is visible: they may be pooled",
    "share the shape": "They wear alike, but not equally fast: one shape, a scale each",
    "keep apart": "They wear in different ways: keep them apart",
}
# Columns in which a blank cell says something: not refurbished, bought before the records began.
_MEANT_BLANK: Final = ("refurbished", "purchase_year")


@singledispatch
def finding(found: Any) -> str:
    """Say one finding about the fitted life in one sentence.

    Parameters
    ----------
    found : WeibullCheck, Rivals, Effect, Drift, Trend, PositionFailures or Comparison
        What a check found.

    Returns
    -------
    str
        The sentence; where there is too little to tell, what it would take.
    """
    raise TypeError(f"there are no words for a {type(found).__name__}")


@finding.register
def _check(found: adequacy.WeibullCheck) -> str:
    if not found.enough:
        return (
            f"{_failures(found.failures)}: not enough to tell whether a Weibull life is fair (it "
            f"takes {adequacy.FEWEST_FAILURES} at different ages), so it is assumed."
        )
    stray = f"{in_100(found.p_value)} simulated Weibull fleets like this one stray"
    if found.strays:
        return (
            f"The failures stray from a Weibull life: only {stray} as far, so read the numbers "
            "far from the failures seen with care."
        )
    return (
        f"A Weibull life fits these {found.failures} failures: {stray} at least as far from the "
        "line."
    )


@finding.register
def _rivals(found: rivals.Rivals) -> str:
    if not found.enough:
        return (
            f"{_failures(found.failures)}: not enough to tell one kind of life from another (it "
            f"takes {rivals.FEWEST_FAILURES} at different ages)."
        )
    own, rival = found.weibull, found.nearest
    shares = (
        f"under it {percent(rival.share_reaching)} of heads would reach "
        f"{hours(found.rated_hours)} instead of {percent(own.share_reaching)}."
    )
    kind = f"an {rival.life}" if rival.life[0] in "aeiou" else f"a {rival.life}"
    if found.clearly_better == rival.life:
        return f"{kind[0].upper()}{kind[1:]} life fits clearly better than a Weibull one; {shares}"
    if found.clearly_better:
        return f"A Weibull life fits clearly better than its nearest rival, {kind} life; {shares}"
    return f"These failures cannot tell a Weibull life from {kind} one; {shares}"


@finding.register
def _effect(found: effects.Effect) -> str:
    name = found.factor.capitalize()
    if not found.enough:
        return (
            f"{name}: not enough to tell; it takes two of them with {effects.FEWEST_FAILURES} "
            "failures each."
        )
    fleets = in_100(found.p_value)
    if not found.matters:
        return (
            f"{name} makes no difference that these failures could show: {fleets} fleets without "
            "any look as different."
        )
    by_chance = f"{name} matters (by chance alone, {fleets} fleets look so)"
    if found.ends is None:
        return f"{by_chance}, but not by how much."
    best, worst = found.ends
    return (
        f"{by_chance}: {percent(found.share)} of heads reach {hours(best.hours)} with "
        f"{best.level}, but only {hours(worst.hours)} with {worst.level}, "
        f"{hours(best.hours - worst.hours)} less."
    )


@finding.register
def _drift(found: drift.Drift) -> str:
    if not found.enough:
        return (
            "Purchase date: not enough to tell whether newer heads last longer or shorter; "
            f"it takes {2 * drift.FEWEST_FAILURES} failures of heads bought at different times."
        )
    low, high = (_change(bound) for bound in found.per_year_bounds)
    size = f"{_change(found.per_year)} a year ({low} to {high})"
    if found.drifts:
        way = "longer" if found.per_year > 1 else "shorter"
        return f"Heads bought later last {way}: their life changes by {size}."
    return (
        f"Heads bought later last neither clearly longer nor shorter: their life changes by {size}."
    )


@finding.register
def _trend(found: trend.Trend) -> str:
    if not found.enough:
        return (
            f"{_failures(found.failures)} in all positions: not enough to tell a trend (it takes "
            f"{trend.FEWEST_FAILURES})."
        )
    chance = f"chance gives such a pattern in {in_100(found.p_value)} fleets"
    if found.trends:
        way = "faster" if found.statistic > 0 else "slower"
        return (
            f"Printers wear heads ever {way} over time ({chance}): something other than the "
            "heads' own age is changing, so read the fitted life with care."
        )
    if found.ages_alone:
        way = "faster" if found.laplace > 0 else "slower"
        return (
            f"Failures come {way} than at first only because of the heads' own ages; beyond that "
            f"printers wear heads neither faster nor slower over time ({chance})."
        )
    return f"Printers wear heads neither faster nor slower over time; {chance}."


@finding.register
def _positions(found: trend.PositionFailures) -> str:
    if not found.enough:
        return (
            f"{_failures(found.failures)} in all positions: not enough to tell whether one of "
            "them eats heads."
        )
    worst_first = list(lines(found.table))
    named = [
        f"{row.printer} {row.position} ({row.failures} failures where "
        f"{decimals(row.expected, 1)} would be usual)"
        for row in worst_first
        if row.eats_heads
    ]
    if not named:
        first = worst_first[0]
        return (
            f"No position eats heads beyond chance; the most is {first.printer} {first.position} "
            f"with {counted(first.failures, 'failure', 'failures')} where "
            f"{decimals(first.expected, 1)} would be usual."
        )
    verb = "eats" if len(named) == 1 else "eat"
    return f"{listed(named)} {verb} heads: look at the printer before blaming the heads."


@finding.register
def _comparison(found: Comparison) -> str:
    answer = _ADVICE[found.advice]
    if found.too_few and found.advice == "pool":
        every = len(found.too_few) == len(found.failures)
        which = "" if every else f" ({listed(found.too_few)})"
        return f"{answer}, but with so few failures{which} none could be seen."
    return f"{answer}."


def division_sentence(division: Division) -> str:
    """Say whether the parts of a division, such as that by lot, differ, and what each rests on.

    Parameters
    ----------
    division : Division
        A head type and role divided by further columns.

    Returns
    -------
    str
        The sentence.
    """
    by = f"{division.group.name} by {listed([name.replace('_', ' ') for name in division.columns])}"
    if division.comparison is None:
        return f"{by}: fewer than two of them have run, so there is nothing to compare."
    said = [f"{by}: {finding(division.comparison)}", *_leaning(division), *_blank(division)]
    return " ".join(said)


def _leaning(division: Division) -> Iterator[str]:
    """Say what parts lean on, and which of them are too young to be judged."""
    spreads = [part.leans_on.spread for part in division.parts if part.leans_on is not None]
    if spreads:
        yield (
            "Each is judged by its own heads and, as far as lives are alike, those of the others "
            f"(by these records their lives differ by about {percent(max(spreads))})."
        )
    young = [part.group.part for part in division.parts if part.too_young]
    if young:
        yield (
            f"Too young to judge: {listed(young)}. What is said of "
            f"{'it' if len(young) == 1 else 'them'} is what the others say."
        )


def _blank(division: Division) -> Iterator[str]:
    """Say how many heads have nothing written where they are divided."""
    every = sum(part.heads for part in division.parts)
    for column in division.columns:
        heads = sum(part.heads for part in division.parts if (column, "") in part.group.further)
        if heads and column not in _MEANT_BLANK:
            name = column.replace("_", " ")
            yield (
                f"For {heads} of {counted(every, 'head', 'heads')} no {name} is on record: they "
                f"stand as “no {name}”, whichever is theirs; write it in one row of each."
            )


def shape_sentence(life: Life, confidence: float = 0.90) -> str:
    """Say where the shape of a life comes from, and what the records add to one stated.

    Parameters
    ----------
    life : Life
        A fitted life.
    confidence : float
        Two-sided, of the bounds said [-].

    Returns
    -------
    str
        The sentence.
    """
    failures = round(life.failures_for_shape)
    low, high = life.shape_bounds(confidence)
    stated = life.shape_prior
    if stated is None:
        if not life.shape_learned:
            return (
                f"The shape is assumed, not learned: {counted(failures, 'failure', 'failures')} on "
                f"record {'says' if failures == 1 else 'say'} too little of it ({low:.2g} to "
                f"{high:.2g} is all that can be said)."
            )
        return (
            f"The shape is learned from {failures} failures: {decimals(low, 2)} to "
            f"{decimals(high, 2)}."
        )
    free = life.without_stated_shape().shape_bounds(confidence)
    alone = f"the records alone would say {decimals(free[0], 2)} to {decimals(free[1], 2)}"
    if stated.fixed:
        return f"The shape is stated as exactly {stated.median:g}; {alone}."
    before = (
        f"{decimals(stated.median / stated.spread, 2)} to "
        f"{decimals(stated.median * stated.spread, 2)}"
    )
    after = f"with the records it is {decimals(low, 2)} to {decimals(high, 2)}"
    return f"The shape is stated as {before}; {after}, {alone}."


def _failures(number: int) -> str:
    """Begin a sentence with a number of failures."""
    said = counted(number, "failure", "failures")
    return said[0].upper() + said[1:]


def _change(factor: float) -> str:
    change = whole(100 * (factor - 1))
    return f"{change} %" if factor < 1 else f"+{change} %"
