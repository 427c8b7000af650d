"""Many sites on a terminal.

From pooled evidence, or evidence just written; calculates nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.life.site_evidence import EXACT_TELLS, TELLS
from headlife.show.terminal import Screen, Verdict
from headlife.show.words.numbers import chance, counted, hours, percent, ranges, span
from headlife.show.words.rating import rating_sentence
from headlife.show.words.sites import (
    difference_sentence,
    pooling_notes,
    stratum_notes,
)

if TYPE_CHECKING:
    from headlife.life.site_evidence import SiteEvidence
    from headlife.scale.pooling import PooledStratum, Pooling

_SITES_SHOWN: Final = 30


def print_pooling(screen: Screen, found: Pooling) -> None:
    """Print the verdicts for all sites and each, and how different the sites are.

    Parameters
    ----------
    screen : Screen
        Printed on.
    found : Pooling
        The answers.
    """
    screen.head(f"Evidence of {counted(len(found.sites), 'site', 'sites')}")
    for note in pooling_notes(found):
        screen.say(note)
    for stratum in found.strata:
        screen.gap()
        screen.head(
            f"{stratum.name}, rated {hours(stratum.rated_hours)}: "
            f"{counted(stratum.heads, 'head', 'heads')}, {stratum.failures:,} failed by "
            f"{stratum.mode}"
        )
        screen.say(Verdict(stratum.verdict.verdict), rating_sentence(stratum.verdict))
        screen.say(difference_sentence(stratum.difference))
        for note in stratum_notes(stratum):
            screen.say(note)
        _sites(screen, stratum, found.shared_shape)
    screen.gap()
    screen.say(ranges(found.strata[0].verdict.confidence))


def _sites(screen: Screen, stratum: PooledStratum, shared_shape: bool) -> None:
    worst_first = sorted(stratum.sites, key=lambda one: one.verdict.probability)
    shown = worst_first[:_SITES_SHOWN]
    title = "Each site" + (", shape shared with the others" if shared_shape else "")
    if len(shown) < len(worst_first):
        title += f" (the {len(shown)} least likely to hold, of {len(worst_first)})"
    screen.table(
        title,
        ["Site", "Heads", "Failed", "Verdict", "Share reaching the rating", "Chance"],
        [
            [
                one.site,
                f"{one.heads:,}",
                f"{one.failures:,}",
                Verdict(one.verdict.verdict),
                f"{percent(one.verdict.share_reaching)} ({span(*one.verdict.bounds)})",
                chance(one.verdict.probability),
            ]
            for one in shown
        ],
        right=(1, 2, 5),
    )


def print_written(screen: Screen, one: SiteEvidence, where: str) -> None:
    """Say which evidence of a site was written where, and what was withheld.

    Parameters
    ----------
    screen : Screen
        Printed on.
    one : SiteEvidence
        The evidence of a site.
    where : str
        Where it was written.
    """
    shown = [stratum for stratum in one.strata if not stratum.withheld]
    screen.say(
        f"{one.site}, as of {one.as_of}: {counted(len(shown), 'stratum', 'strata')} in {where}"
    )
    for stratum in one.strata:
        if stratum.withheld:
            screen.say(f"  withheld: {stratum.group.name} ({stratum.withheld})")
    if shown:
        screen.say(EXACT_TELLS if one.exact else TELLS)
