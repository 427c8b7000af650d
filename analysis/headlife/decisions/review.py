"""The answers of one quarter, from a shop's records and settings: all of them, in one object.

For every head type and role: does the rating hold; for every head type: how many spares; for
every head in service: will it finish the next long build. A small table and a folder of ten
million rows are answered by this code; only the reduction to evidence and fleet differs, and what
could not be reduced is named in `Review.left_out`. Everything shown to people is read from the
`Review`; it holds no figure and no sentence of the report.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from headlife.case import Case, as_case
from headlife.decisions.backtest import backtest
from headlife.decisions.newest import Newest, newest_purchases
from headlife.decisions.rating import NOT_SETTLED, judge_rating
from headlife.decisions.review_answers import Answers, Division, Review, Stratum
from headlife.decisions.spares.ahead import fleet_ahead
from headlife.decisions.spares.levels import stock_answers
from headlife.decisions.standing import standings
from headlife.decisions.watch import watch_list
from headlife.errors import SettingsError
from headlife.fleet.state import Fleet
from headlife.life.by_lot import by_purchase, lives_by_lot
from headlife.life.groups import Group, GroupEvidence, fit_modes, groups_in
from headlife.life.lots import lot_lives
from headlife.life.reduction import in_order
from headlife.life.strata import Comparison, compare_strata
from headlife.progress import Progress
from headlife.shop.columns import PURCHASE_YEAR

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.records.record_set import Records
    from headlife.shop import Shop


def quarterly_review(
    case: Case | Records,
    shop: Shop | None = None,
    as_of: Any = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Review:
    """Answer the questions of a quarter.

    Parameters
    ----------
    case : Case or Records
        What `read_case` returned; or records from `read_records` with `shop` and `as_of`.
    shop : Shop, optional
        The settings, where records are given: those they were read with.
    as_of : date, optional
        Where records are given: look at them as they were known on this day; default all of them.
    progress : callable, optional
        Called with (step, done, total) before each step.
    executor : concurrent.futures.Executor, optional
        Works on the simulations in pieces; the answer is the same with any, or without.

    Returns
    -------
    Review
        Same records, settings and seed, same review.

    Raises
    ------
    HeadlifeError
        Rows were set aside and the settings say to stop then, or a number is out of range.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> [(answer.head_type, answer.plan.stock_level) for answer in hl.quarterly_review(case).stock]
    [('Standard', 8), ('Fibre', 4)]
    """
    case = as_case(case, shop, as_of)
    tell = progress or (lambda step, done, total: None)
    tell("joining installations into lives", 0, 1)
    answers = answers_from(
        case.evidence, case.fleet, case.shop, case.day, tell, executor, case.lives
    )
    tell("judging past quarters", 0, 1)
    stand = standings(case, [one.group for one in answers.judged if one.life is not None])
    tell("judging past quarters", 1, 1)
    return Review(
        **vars(case.provenance),
        **vars(answers),
        set_aside=case.records.set_aside,
        findings=case.records.findings,
        lives=case.lives,
        in_service=case.fleet.positions,
        fleet=case.fleet,
        build_hours=case.shop.review.build_hours,
        last_quarter=backtest(case, progress=tell, last_only=True, executor=executor).quarters,
        standings=stand,
        practised=case.fleet.practised,
        newest=_newest(answers, case.shop.review.primary_mode),
    )


def _newest(answers: Answers, primary: str) -> tuple[Newest, ...]:
    if any(one.purchases for one in answers.divisions):
        return ()
    return newest_purchases([(one.group, one.life, one.lives) for one in answers.strata], primary)


def answers_from(
    evidence: Sequence[GroupEvidence],
    fleet: Fleet,
    shop: Shop,
    day: pd.Timestamp,
    tell: Progress,
    executor: Executor | None = None,
    lives: pd.DataFrame | None = None,
) -> Answers:
    """Answer rating, spares and watch list, however the records were reduced.

    Parameters
    ----------
    evidence : sequence of GroupEvidence
        Of every head type and role, and of their divisions.
    fleet : Fleet
        What is in service and on the shelf.
    shop : Shop
        The shop's settings.
    day : pandas.Timestamp
        Day of the review.
    tell : callable
        Called with (step, done, total) before each step.
    executor : concurrent.futures.Executor, optional
        As for `quarterly_review`.
    lives : pandas.DataFrame, optional
        The lives behind the evidence, where there are few enough to hold.

    Returns
    -------
    Answers
        The quarter's answers.

    Raises
    ------
    SettingsError
        Ratings are asked for by a column that no head has a value in.
    """
    whole = [one for one in evidence if not one.group.further]
    # Heads whose role changed stand in a position of a group that has no life yet.
    silent = set(groups_in(fleet.positions)) - {one.group for one in whole}
    rated = shop.rated_hours
    whole += [GroupEvidence(one, rated[one.head_type], 0, {}, print_hours=0.0) for one in silent]
    asked = list(in_order(whole, rated))
    for columns in shop.divisions:
        of_it = [one for one in evidence if one.group.columns[2:] == columns]
        asked += in_order(of_it, rated)
    judged = []
    for done, one in enumerate(asked):
        tell("judging ratings", done, len(asked))
        judged.append(_stratum(one, fleet, shop, lives))
    tell("judging ratings", len(judged), len(judged))
    strata = tuple(judged[: len(whole)])
    modes = lives_by_lot(
        {stratum.group: list(stratum.modes.values()) for stratum in strata},
        evidence,
        shop.review.divisions,
        shop.review.primary_mode,
    )
    tell("simulating demand", 0, 1)
    ahead = fleet_ahead(fleet, modes, shop, day, executor=executor)
    stock = stock_answers(fleet, modes, shop, day, tell, ahead)
    tell("listing heads to watch", 0, 1)
    watch = watch_list(fleet.positions, modes, shop.review.build_hours, seed=shop.review.seed)
    tell("listing heads to watch", 1, 1)
    return Answers(strata, _divisions(judged[len(whole) :], shop), modes, stock, watch, ())


def _stratum(
    evidence: GroupEvidence, fleet: Fleet, shop: Shop, lives: pd.DataFrame | None
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
        in_service=int(group.rows(fleet.positions).sum()),
        lives=own,
    )


def _divisions(parts: Sequence[Stratum], shop: Shop) -> tuple[Division, ...]:
    """Gather the parts of each division, and say whether they differ."""
    found: dict[tuple[tuple[str, ...], Group], list[Stratum]] = {}
    for part in parts:
        columns = tuple(column for column, _ in part.group.further)
        found.setdefault((columns, part.group.pooled), []).append(part)
    _refuse_blank_columns([part.group for part in parts])
    primary = shop.review.primary_mode
    return tuple(
        Division(
            group,
            columns,
            _leaning(own, primary),
            _compared(own, primary),
            by_purchase(part.evidence for part in own),
        )
        for (columns, group), own in found.items()
    )


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


def _refuse_blank_columns(groups: Iterable[Group]) -> None:
    stated: dict[str, bool] = {}
    for group in groups:
        for column, value in group.further:
            stated[column] = stated.get(column, False) or bool(value)
    for column, somewhere in stated.items():
        if not somewhere:
            read = "date_bought" if column == PURCHASE_YEAR else column
            raise SettingsError(
                f"[review] groups asks for ratings by {column}, and no head on record has a value "
                f"there; fill in the column {read}, name the shop's own column in [columns] "
                f'{read} = "...", or take {column} out of groups.'
            )
