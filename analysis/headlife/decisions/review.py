"""The answers of one quarter, from a shop's records and settings: all of them, in one object.

For every head type and role: does the rating hold; for every head type: how many spares; for
every head in service: will it finish the next long build. A small table and a folder of ten
million rows are answered by this code; only the reduction to evidence and fleet differs, and what
could not be reduced is named in `Review.left_out`. Everything shown to people is read from the
`Review`; it holds no figure and no sentence of the report.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from headlife.case import Case, as_case
from headlife.decisions.backtest import backtest
from headlife.decisions.newest import Newest, newest_purchases
from headlife.decisions.ratings import judged_ratings
from headlife.decisions.review_answers import Answers, Review
from headlife.decisions.spares.ahead import fleet_ahead
from headlife.decisions.spares.levels import stock_answers
from headlife.decisions.standing import standings
from headlife.decisions.watch import watch_list
from headlife.errors import SettingsError
from headlife.fleet.state import Fleet
from headlife.life.by_lot import lives_by_lot
from headlife.life.groups import Group, GroupEvidence, groups_in
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
    [('Standard', 7), ('Fibre', 5)]
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
    parts = [one for one in evidence if one.group.further]
    _refuse_blank_columns([one.group for one in parts])
    strata, divisions = judged_ratings(
        [*whole, *parts], shop, lives, fleet.positions, tell, fleet.giving_way
    )
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
    return Answers(strata, divisions, modes, stock, watch, ())


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
