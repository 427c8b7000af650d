"""Does the rating hold at each site, and at all of them together? From their evidence files.

Adds what may be added and names what may not: a site sent twice, ratings that differ, a stratum
that some sites lack or withhold. Says how different the sites are before anyone reads the pooled
verdict, and can let small sites borrow the shape of the life from all others. Sees no record.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import repeat
from typing import TYPE_CHECKING, Final

from headlife.decisions.rating import RatingVerdict, Verdict, judge_rating, judge_ratings
from headlife.display import shows_itself
from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.many import ManyLives, fit_many
from headlife.life.posterior import Life, fit_life
from headlife.memory import nothing_to_collect
from headlife.progress import Progress
from headlife.scale.addable import one_mode, one_rating_each, refuse_repeats
from headlife.scale.differences import Difference, compare_sites, shape_from_others
from headlife.scale.rounding import rounding_range, settled
from headlife.seeds import generator

if TYPE_CHECKING:
    from headlife.life.groups import Group, GroupEvidence
    from headlife.life.rounded import AgePicture
    from headlife.life.site_evidence import SiteEvidence


MOST_PULLS: Final = 50  # sites left out one by one
_TOGETHER: Final = 512  # sites judged between two words of progress


@dataclass(frozen=True)
class SiteAnswer:
    """One site's answer for one stratum."""

    site: str
    """Name of the site."""
    heads: int
    """Number of lives [heads]."""
    failures: int
    """Failures by the mode judged [heads]."""
    life: Life
    """Posterior of the life at this site."""
    verdict: RatingVerdict
    """Verdict on the rating from this site's heads."""


@dataclass(frozen=True)
class Pull:
    """What one site does to the verdict over all sites."""

    site: str
    """Name of the site."""
    verdict: Verdict
    """Verdict on the rating from all other sites as one."""
    probability: float
    """Probability that the claim is true, from all other sites as one [-]."""


@dataclass(frozen=True)
class PooledStratum:
    """One head type in one role, over all sites that show it."""

    group: Group
    """Head type and role."""
    mode: str
    """Failure mode judged."""
    rated_hours: float
    """The rated life judged [h]."""
    heads: int
    """Number of lives of all sites [heads]."""
    failures: int
    """Failures by the mode at all sites [heads]."""
    life: Life
    """Posterior of the life, all sites as one."""
    verdict: RatingVerdict
    """Verdict on the rating, all sites as one; not settled where rounding might decide it."""
    rounding: tuple[float, float] | None
    """Chances that the claim is true [-] between which the one from the exact sums lies; None where
    all sites tell exact sums."""
    unsettled_by_rounding: bool
    """Whether the verdict would be another one but for the rounding of the sites' answers."""
    difference: Difference
    """How different the sites are."""
    decided_by: tuple[Pull, ...]
    """Sites without any one of which the verdict would be another one, the strongest pull first."""
    sites: tuple[SiteAnswer, ...]
    """Each site on its own, in the order given; empty when not asked for."""
    without: tuple[str, ...]
    """Sites that have no such heads."""
    withheld: tuple[str, ...]
    """Sites that have some and withhold their evidence; they are in no number here."""
    silent: tuple[str, ...]
    """Sites whose such heads have no running hours for the mode."""
    moved: tuple[str, ...]
    """Sites whose evidence was stated at another age than the rating judged and moved to it."""

    @property
    def name(self) -> str:
        """The group as people write it."""
        return self.group.name


@shows_itself
@dataclass(frozen=True)
class Pooling:
    """Every answer from the evidence of several sites."""

    sites: tuple[str, ...]
    """Names of the sites."""
    first_as_of: datetime.date
    """Earliest day on which a site looked at its records."""
    last_as_of: datetime.date
    """Latest such day."""
    strata: tuple[PooledStratum, ...]
    """Answers by head type and role."""
    shared_shape: bool
    """Whether each site's verdict borrows the shape of the life from the other sites."""
    oldest: str
    """The site that looked at its records first, on `first_as_of`."""
    empty: tuple[str, ...]
    """Sites of which nothing is added: every stratum is withheld or has no hours."""


@nothing_to_collect()
def pool_sites(
    sites: Sequence[SiteEvidence],
    share: float = 0.90,
    confidence: float = 0.95,
    rated_hours: Mapping[str, float] | None = None,
    shared_shape: bool = False,
    each_site: bool = True,
    seed: int = 1,
    progress: Progress | None = None,
) -> Pooling:
    """Judge the rating over all sites and at each.

    Parameters
    ----------
    sites : sequence of SiteEvidence
        One for each site.
    share, confidence : float
        The claim, as for `judge_rating` [-].
    rated_hours : mapping of str to float, optional
        Rating to judge by head type [h], where sites state different ones.
    shared_shape : bool
        Let each site's verdict take the shape of the life from the other sites (partial
        pooling): the hazard stays the site's own.
    each_site : bool
        Judge each site too; without it only all sites as one.
    seed : int
        For the test of equal risk.
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    Pooling
        Verdicts over all sites and at each, and how different they are.

    Raises
    ------
    EvidenceError
        No evidence, a site given twice, the same evidence under two names, sites whose ratings
        or primary modes differ, or nothing in common to judge.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from headlife.life.site_evidence import site_evidence
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> told = site_evidence(case.evidence, case.shop, "Harbour Hall", case.day)
    >>> both = hl.pool_sites([told, replace(told, site="Foundry")])
    >>> for one in both.strata:
    ...     print(one.group.name, one.heads, one.verdict.verdict)
    Standard, model 46 not settled
    Standard, support 60 holds
    Fibre, model 44 falls short
    """
    refuse_repeats(sites)
    mode = one_mode(sites)
    ratings = one_rating_each(sites, dict(rated_hours or {}))
    have: dict[Group, dict[str, GroupEvidence]] = {}
    pictures: dict[Group, dict[str, AgePicture | None]] = {}
    for site in sites:
        for stratum, ages in zip(site.strata, site.ages or repeat(None), strict=False):
            have.setdefault(stratum.group, {})[site.site] = stratum
            pictures.setdefault(stratum.group, {})[site.site] = ages
    groups = [
        one for one, by_site in have.items() if any(mode in s.modes for s in by_site.values())
    ]
    if not groups:
        raise EvidenceError(
            f"None of the {len(sites)} sites shows a stratum with running hours for the mode "
            f"'{mode}'; there is nothing to pool."
        )
    strata = []
    for group in groups:
        rated = ratings[group.head_type]
        given = _Given(group, mode, rated, share, confidence, shared_shape, each_site)
        strata.append(_pooled(given, sites, have[group], pictures[group], seed, progress))
    days = [site.as_of for site in sites]
    return Pooling(
        sites=tuple(site.site for site in sites),
        first_as_of=min(days),
        last_as_of=max(days),
        strata=tuple(strata),
        shared_shape=shared_shape,
        oldest=min(sites, key=lambda site: site.as_of).site,
        empty=tuple(s.site for s in sites if not any(mode in t.modes for t in s.strata)),
    )


@dataclass(frozen=True)
class _Given:
    """What is asked about one stratum."""

    group: Group
    mode: str
    rated_hours: float
    share: float
    confidence: float
    shared_shape: bool
    each_site: bool

    def judge(self, life: Life) -> RatingVerdict:
        return judge_rating(life, self.rated_hours, self.share, self.confidence)

    def chances(self, pools: list[Evidence]) -> list[float]:
        found = fit_many(pools).probability_reliability_above(self.share, self.rated_hours)
        return list(map(float, found))

    def judge_each(self, lives: ManyLives) -> list[RatingVerdict]:
        return judge_ratings(lives, self.rated_hours, self.share, self.confidence)


def _pooled(
    given: _Given,
    sites: Sequence[SiteEvidence],
    have: dict[str, GroupEvidence],
    pictures: Mapping[str, AgePicture | None],
    seed: int,
    progress: Progress | None,
) -> PooledStratum:
    shown = [
        (site, stratum, stratum.modes[given.mode])
        for site, stratum in have.items()
        if given.mode in stratum.modes
    ]
    # Stated at the rating that is judged, whatever reference a site used.
    parts = [evidence.rereference(given.rated_hours) for _, _, evidence in shown]
    everything = pool(parts)
    life = fit_life(everything)
    by_answers = given.judge(life)
    rounding = rounding_range(
        [evidence for _, _, evidence in shown],
        [pictures[site] for site, _, _ in shown],
        lambda pools: given.chances([each.rereference(given.rated_hours) for each in pools]),
    )
    verdict = settled(by_answers, rounding)
    unsettled = verdict.verdict != by_answers.verdict
    names = {site for site, _, _ in shown}
    return PooledStratum(
        group=given.group,
        mode=given.mode,
        rated_hours=given.rated_hours,
        heads=sum(stratum.heads for _, stratum, _ in shown),
        failures=round(everything.all_failures),
        life=life,
        verdict=verdict,
        rounding=rounding,
        unsettled_by_rounding=unsettled,
        # Of a verdict that rounding might decide there is no need to say so of a site.
        decided_by=()
        if unsettled
        else _decided_by(given, verdict, [site for site, _, _ in shown], parts),
        difference=compare_sites(
            parts, generator(seed, "sites", given.group.head_type, given.group.role)
        ),
        sites=tuple(_each(given, shown, parts, progress)) if given.each_site else (),
        without=tuple(site.site for site in sites if site.site not in have),
        withheld=tuple(site for site, stratum in have.items() if stratum.withheld),
        silent=tuple(site for site, s in have.items() if not s.withheld and site not in names),
        moved=tuple(site for site, _, e in shown if e.reference_hours != given.rated_hours),
    )


def _decided_by(
    given: _Given, verdict: RatingVerdict, sites: Sequence[str], parts: Sequence[Evidence]
) -> tuple[Pull, ...]:
    """Find the sites without which the verdict would be another one.

    Among thousands of sites only the largest can decide alone, so these are looked at.
    """
    if len(parts) < 2:
        return ()
    by_size = sorted(range(len(parts)), key=lambda place: -_size(parts[place]))
    looked_at, others_at = by_size[:MOST_PULLS], by_size[MOST_PULLS:]
    chosen, rest = [parts[place] for place in looked_at], [parts[place] for place in others_at]
    before, after = _running(chosen), _running(chosen[::-1])[::-1]
    others = pool(rest) if rest else None
    left = [
        pool([one for one in sums if one is not None])
        for sums in zip(before, after, [others] * len(looked_at), strict=True)
    ]
    found = [
        Pull(sites[place], without.verdict, without.probability)
        for place, without in zip(looked_at, given.judge_each(fit_many(left)), strict=True)
        if without.verdict != verdict.verdict
    ]
    return tuple(sorted(found, key=lambda one: -abs(one.probability - verdict.probability)))


def _size(part: Evidence) -> float:
    """How much a site may weigh: its failures first, then its heads."""
    return part.all_failures + 1e-3 * part.heads


def _running(parts: Sequence[Evidence]) -> list[Evidence | None]:
    """Give for each evidence the sum of those before it."""
    sums: list[Evidence | None] = [None]
    for part in parts[:-1]:
        last = sums[-1]
        sums.append(part if last is None else last + part)
    return sums


_Shown = tuple[str, "GroupEvidence", Evidence]


def _each(
    given: _Given, shown: list[_Shown], parts: list[Evidence], progress: Progress | None
) -> Iterator[SiteAnswer]:
    priors = shape_from_others(parts) if given.shared_shape else [None] * len(parts)
    step = f"judging sites: {given.group.name}"
    for start in range(0, len(parts), _TOGETHER):
        if progress is not None:
            progress(step, start, len(parts))
        some = slice(start, start + _TOGETHER)
        verdicts = given.judge_each(fit_many(parts[some], list(priors[some])))
        each = zip(shown[some], parts[some], priors[some], verdicts, strict=True)
        for (site, stratum, _), part, prior, verdict in each:
            life = fit_life(part, prior)
            yield SiteAnswer(site, stratum.heads, round(part.all_failures), life, verdict)
