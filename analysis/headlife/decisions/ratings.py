"""Does each rating hold: of every head type and role, and of their lots and other divisions?

From evidence of every group: a verdict for each; the parts of a division judged by their own lives
and, as far as they are alike, those of the others. The review and the page for a vendor read the
same answers. Looks at no past quarter: that is `decisions.standing`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from headlife.decisions.rating import NOT_SETTLED, judge_rating
from headlife.decisions.review_answers import Division, Stratum
from headlife.fleet.succession import successors
from headlife.life.by_lot import Purchased, by_purchase
from headlife.life.groups import Group, GroupEvidence, fit_modes
from headlife.life.lots import lot_lives
from headlife.life.reduction import in_order
from headlife.life.strata import Comparison, compare_strata

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.succession import GivesWay
    from headlife.progress import Progress
    from headlife.shop import Shop


def judged_ratings(
    evidence: Sequence[GroupEvidence],
    shop: Shop,
    lives: pd.DataFrame | None = None,
    positions: pd.DataFrame | None = None,
    progress: Progress | None = None,
    giving_way: Sequence[GivesWay] = (),
) -> tuple[tuple[Stratum, ...], tuple[Division, ...]]:
    """Judge the rating of every head type and role, and of the parts of their divisions.

    Parameters
    ----------
    evidence : sequence of GroupEvidence
        Of every head type and role, and of their divisions.
    shop : Shop
        Its ratings, claim, failure modes and divisions.
    lives : pandas.DataFrame, optional
        The lives behind the evidence, where there are few enough to hold.
    positions : pandas.DataFrame, optional
        Heads in service, where those of each group are to be counted.
    progress : callable, optional
        Called with (step, done, total).
    giving_way : sequence of GivesWay
        Head types that another one takes the place of: nothing of them is bought now.

    Returns
    -------
    strata : tuple of Stratum
        By head type and role, in the settings' order.
    divisions : tuple of Division
        By the further columns that the settings ask for.
    """
    tell = progress or (lambda step, done, total: None)
    whole = [one for one in evidence if not one.group.further]
    asked = list(in_order(whole, shop.rated_hours))
    for columns in shop.divisions:
        of_it = [one for one in evidence if one.group.columns[2:] == columns]
        asked += in_order(of_it, shop.rated_hours)
    judged = []
    for done, one in enumerate(asked):
        tell("judging ratings", done, len(asked))
        judged.append(_stratum(one, shop, lives, positions))
    tell("judging ratings", len(judged), len(judged))
    goes = successors(giving_way).keys()
    return tuple(judged[: len(whole)]), _divisions(judged[len(whole) :], shop, goes)


def _stratum(
    evidence: GroupEvidence,
    shop: Shop,
    lives: pd.DataFrame | None,
    positions: pd.DataFrame | None,
) -> Stratum:
    import pandas as pd

    group, primary = evidence.group, shop.review.primary_mode
    modes = fit_modes(evidence, primary)
    life = modes.get(primary)
    failures = {
        mode: round(evidence.modes[mode].all_failures) if modes else 0
        for mode in modes or [primary]
    }
    own = pd.DataFrame() if lives is None else lives[group.rows(lives)].reset_index(drop=True)
    claim = shop.claim
    return Stratum(
        group=group,
        evidence=evidence,
        modes=modes,
        life=life,
        verdict=None
        if life is None
        else judge_rating(life, evidence.rated_hours, claim.share, claim.confidence),
        failures=failures,
        in_service=0 if positions is None else int(group.rows(positions).sum()),
        lives=own,
    )


def _divisions(
    parts: Sequence[Stratum], shop: Shop, goes: Collection[tuple[str, str]]
) -> tuple[Division, ...]:
    """Gather the parts of each division, say whether they differ and what of them is bought now."""
    found: dict[tuple[tuple[str, ...], Group], list[Stratum]] = {}
    for part in parts:
        columns = tuple(column for column, _ in part.group.further)
        found.setdefault((columns, part.group.pooled), []).append(part)
    primary = shop.review.primary_mode
    return tuple(
        Division(
            group,
            columns,
            _leaning(own, primary),
            _compared(own, primary),
            _purchases(own, (group.head_type, group.role) in goes),
        )
        for (columns, group), own in found.items()
    )


def _purchases(parts: Sequence[Stratum], goes: bool) -> tuple[Purchased, ...]:
    """Order the parts by their newest head; of a type that goes none is bought any more."""
    found = by_purchase(part.evidence for part in parts)
    return tuple(replace(one, share=0.0) for one in found) if goes else found


def _leaning(parts: Sequence[Stratum], primary: str) -> tuple[Stratum, ...]:
    """Judge every part by its own lives and, as far as they are alike, those of the others."""
    ran = [part for part in parts if part.verdict is not None]
    if len(ran) < 2:
        return tuple(parts)
    lots = dict(
        zip(
            (id(part) for part in ran),
            lot_lives([p.evidence.modes[primary] for p in ran]),
            strict=True,
        )
    )
    found = []
    for part in parts:
        lot, said = lots.get(id(part)), part.verdict
        if lot is not None and said is not None:
            verdict = judge_rating(lot, said.rated_hours, said.share, said.confidence, said.claim)
            part = replace(part, verdict=verdict, leans_on=lot)
            if part.too_young:
                part = replace(part, verdict=replace(verdict, verdict=NOT_SETTLED))
        found.append(part)
    return tuple(found)


def _compared(parts: Sequence[Stratum], primary: str) -> Comparison | None:
    """Compare the parts of a division that have run, by the mode that the rating is about."""
    ran = {part.group.part: part.evidence.modes[primary] for part in parts if part.modes}
    return compare_strata(ran) if len(ran) > 1 else None
