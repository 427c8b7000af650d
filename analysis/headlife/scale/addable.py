"""Which evidence files may be added? A file sent twice, other modes, other ratings are refused.

From what sites sent, before anything is pooled; what does not fit is named with the sites that
sent it. Adds nothing itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.errors import EvidenceError
from headlife.life.site_text import RATINGS
from headlife.numbers import positive

if TYPE_CHECKING:
    from headlife.life.groups import GroupEvidence
    from headlife.life.site_evidence import SiteEvidence

# Failures from which two sites' rounded answers are hardly alike by chance (own choice).
_ENOUGH_FOR_A_COPY: Final = 30


def refuse_repeats(sites: Sequence[SiteEvidence]) -> None:
    """Refuse nothing at all, and evidence that was sent twice.

    Parameters
    ----------
    sites : sequence of SiteEvidence
        What the sites sent.

    Raises
    ------
    EvidenceError
        The two sites are named.
    """
    if not sites:
        raise EvidenceError("There is no evidence to pool: give at least one site's file.")
    names: dict[str, str] = {}
    contents: dict[tuple[object, ...], tuple[str, GroupEvidence]] = {}
    for site in sites:
        plain = " ".join(site.site.split()).casefold()
        if plain in names:
            raise EvidenceError(
                f"The site '{site.site}' was sent twice; keep the newer of its files, since heads "
                "must not be counted two times."
            )
        names[plain] = site.site
        for stratum in site.strata:
            # Strata without a failure are so plain that chance could make two alike.
            if not any(evidence.failures for evidence in stratum.modes.values()):
                continue
            # So can rounded answers be, unless there are many failures behind them.
            if not site.exact and _failures(stratum) < _ENOUGH_FOR_A_COPY:
                continue
            sums = (stratum.group, *((m, e.failures, e.log_sum) for m, e in stratum.modes.items()))
            other = contents.setdefault(sums, (site.site, stratum))
            if other[1] is not stratum and _same_curves(other[1], stratum):
                raise EvidenceError(
                    f"The sites '{other[0]}' and '{site.site}' sent the same evidence "
                    f"for {stratum.group.name}; one of the two files is a copy "
                    "under another name, leave it out."
                )


def _failures(stratum: GroupEvidence) -> float:
    return sum(evidence.failures for evidence in stratum.modes.values())


def _same_curves(one: GroupEvidence, other: GroupEvidence) -> bool:
    return all(
        e.heads == other.modes[mode].heads
        and np.array_equal(e.log_curve, other.modes[mode].log_curve)
        for mode, e in one.modes.items()
    )


def one_mode(sites: Sequence[SiteEvidence]) -> str:
    """Give the failure mode by which all sites judge their ratings.

    Parameters
    ----------
    sites : sequence of SiteEvidence
        What the sites sent, one or more.

    Returns
    -------
    str
        The mode.

    Raises
    ------
    EvidenceError
        They do not agree; two that differ are named.
    """
    first = sites[0]
    for site in sites:
        if site.primary_mode != first.primary_mode:
            raise EvidenceError(
                f"The site '{first.site}' judges its ratings by the mode '{first.primary_mode}', "
                f"the site '{site.site}' by '{site.primary_mode}'; agree on one name and write "
                "the evidence again."
            )
    return first.primary_mode


def one_rating_each(sites: Sequence[SiteEvidence], stated: dict[str, float]) -> dict[str, float]:
    """Give the rating of every head type.

    Parameters
    ----------
    sites : sequence of SiteEvidence
        What the sites sent.
    stated : dict of str to float
        Ratings to judge whatever the sites say [h], by head type.

    Returns
    -------
    dict of str to float
        Ratings [h], by head type.

    Raises
    ------
    EvidenceError
        Sites disagree and none is stated, no site has heads of a type that is stated, or what is
        stated is no rating.
    """
    ratings: dict[str, tuple[float, str]] = {}
    for site in sites:
        for stratum in site.strata:
            name = stratum.group.head_type
            rated, where = ratings.setdefault(name, (stratum.rated_hours, site.site))
            if stratum.rated_hours != rated and name not in stated:
                raise EvidenceError(
                    f"The rating of '{name}' is {rated:g} h at the site '{where}' and "
                    f"{stratum.rated_hours:g} h at the site '{site.site}'; state the one to "
                    f'judge, --rated-hours "{name}={rated:g}".'
                )
    for head_type, hours in stated.items():
        if head_type not in ratings:
            raise EvidenceError(
                f"No site has heads of the type '{head_type}'; the types are {', '.join(ratings)}."
            )
        positive(f"The rating of '{head_type}'", hours, "[h]")
        if not RATINGS[0] <= hours <= RATINGS[1]:
            raise EvidenceError(
                f"The rating of '{head_type}', {hours:g} h, is none that a head can have; correct "
                "it."
            )
    return {head_type: stated.get(head_type, rated) for head_type, (rated, _) in ratings.items()}
