"""What is to be done after this review, in which order, by when, and what hangs on it?

From a review, its doubts read both ways and the settings: heads to swap, heads to order, what the
records leave open, ratings that are short or not settled. Nothing to do is no action. Never does
any of it, and says nothing in words.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.due import BEFORE_BUILD, SWAP_NOW, heads_due
from headlife.decisions.rating import FALLS_SHORT, HOLDS, NOT_SETTLED
from headlife.display import shows_itself
from headlife.fleet.succession import successors
from headlife.quarters import quarters_ahead
from headlife.records.missing_rows import rows_missing
from headlife.shop.columns import REFURBISHED

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.review_answers import Review, Stratum
    from headlife.decisions.two_ways import TwoWays
    from headlife.shop import Costs, Shop

MISSING: Final = "missing rows"
SWAP: Final = "swap"
ORDER: Final = "order"
BUILD: Final = "before build"
PRACTICE: Final = "practice"
RECORDS: Final = "records"
DOUBT: Final = "doubt"
PULLED: Final = "pulled"
VENDOR: Final = "vendor"
RATING: Final = "rating"
KINDS: Final = (MISSING, SWAP, ORDER, BUILD, PRACTICE, RECORDS, DOUBT, PULLED, VENDOR, RATING)


@dataclass(frozen=True)
class Action:
    """One thing to do."""

    kind: str
    """What sort of thing; actions stand in the order of `KINDS`."""
    about: tuple[str, ...]
    """What it is about: head, printer and position; head type and site; head type and role, and
    the lot where what is bought now is told apart."""
    by: datetime.date
    """Day by which it is to be done."""
    amount: float | None
    """Money that it costs (an order) or that is at risk without it (a swap), where prices and
    costs are stated [currency]."""
    risk: float | None
    """Chance of what happens without it: the next build fails, or a printer waits [-]."""
    heads: int
    """Heads to order, or that are in question [heads]."""
    facts: Any
    """What it rests on: a row of `heads_due`, a `StockAnswer`, a `Stratum`, a `Practised`."""


@shows_itself
@dataclass(frozen=True)
class Actions:
    """What is to be done after a review, the most urgent first."""

    shop_name: str
    """Name of the shop."""
    as_of: pd.Timestamp
    """Day of the review."""
    currency: str
    """Label of amounts."""
    build_hours: float
    """Length of the next long build [h]."""
    each: tuple[Action, ...]
    """The actions; empty where nothing is to be done."""

    def first(self, most: int) -> tuple[Action, ...]:
        """Give the actions to show where not all fit: of every kind the most urgent.

        Parameters
        ----------
        most : int
            How many fit.

        Returns
        -------
        tuple of Action
            In the order of the list; no kind is pushed out by many of another.
        """
        seen: Counter[str] = Counter()
        turns = []
        for place, one in enumerate(self.each):
            turns.append((seen[one.kind], place))
            seen[one.kind] += 1
        return tuple(self.each[place] for place in sorted(at for _, at in sorted(turns)[:most]))


def actions_of(review: Review, shop: Shop, both: TwoWays | None = None) -> Actions:
    """List what is to be done after a review.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    shop : Shop
        The settings that they were made with.
    both : TwoWays, optional
        The answers with removals in doubt read both ways.

    Returns
    -------
    Actions
        The most urgent first; the same review gives the same list.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> todo = hl.actions_of(hl.quarterly_review(case), case.shop)
    >>> [(one.kind, one.about[0]) for one in todo.each[:3]]
    [('swap', 'S014'), ('swap', 'S027'), ('order', 'Standard')]
    """
    heads = heads_due(review.watch, review.fleet, shop, review.as_of)
    quarter = quarters_ahead(review.as_of.date())[0].last
    missing = [
        Action(MISSING, (review.source,), review.as_of.date(), None, None, 0, said)
        for said in rows_missing(review.findings)
    ]
    found = [
        *missing,
        *_swaps(heads[heads["action"] == SWAP_NOW], SWAP, review, shop.costs),
        *_orders(review, shop.prices),
        *sorted(
            _swaps(heads[heads["action"] == BEFORE_BUILD], BUILD, review, shop.costs),
            key=lambda one: one.by,
        ),
        *_practice(review, quarter),
        *_records(review, both, quarter),
        *(one for one in _ratings(review, quarter) if one.kind != VENDOR or not missing),
    ]
    return Actions(
        review.shop_name, review.as_of, shop.costs.currency, review.build_hours, tuple(found)
    )


def _swaps(heads: pd.DataFrame, kind: str, review: Review, costs: Costs) -> Iterator[Action]:
    """Heads past the age at which they are swapped, or unlikely to finish the next build."""
    today = review.as_of.date()
    rows: Iterator[Any] = heads.itertuples(index=False)
    for row in rows:
        known = row.probability == row.probability
        risk = 1.0 - float(row.probability) if known else None
        lost = costs.scrapped_build_cost
        yield Action(
            kind,
            (str(row.head), str(row.printer), str(row.position)),
            today if kind == SWAP else _earliest(row, today),
            None if risk is None or lost is None else risk * lost,
            risk,
            1,
            row,
        )


def _earliest(row: Any, today: datetime.date) -> datetime.date:
    """Earliest day on which a head is due, of the range; today where it is due by its chance."""
    days = [row.earliest_swap, *([row.earliest_rating] if row.quality_critical else [])]
    known = [one.date() for one in days if one == one]
    return min(known) if known else today


def _orders(review: Review, prices: Mapping[str, float | None]) -> Iterator[Action]:
    for answer in review.stock:
        plan, price = answer.plan, prices[answer.head_type]
        if not plan.order_now:
            continue
        there = min(plan.on_hand + plan.on_order, len(plan.table) - 1)
        yield Action(
            ORDER,
            (answer.head_type, answer.site or ""),
            review.as_of.date(),
            None if price is None else plan.order_now * price,
            1.0 - float(plan.table["service"].iloc[there]),
            plan.order_now,
            answer,
        )


def _practice(review: Review, by: datetime.date) -> Iterator[Action]:
    for found in review.practised:
        if found.settings and not found.confirmed:
            yield Action(PRACTICE, (found.head_type,), by, None, None, 0, found)


def _records(review: Review, both: TwoWays | None, by: datetime.date) -> Iterator[Action]:
    """Rows that could not be used, and removals in doubt where an answer hangs on them."""
    aside = len(review.set_aside)
    if aside:
        yield Action(RECORDS, (review.source,), by, None, None, aside, review.set_aside)
    if both is None or both.doubtful.empty:
        return
    levels = zip(both.as_failures.stock, both.as_suspensions.stock, strict=True)
    restocked = {
        one.head_type for one, other in levels if one.plan.stock_level != other.plan.stock_level
    }
    others = {one.group: one for one in both.as_suspensions.strata}
    for one in review.strata:
        doubtful = int(one.group.rows(both.doubtful).sum())
        hangs = one.head_type in restocked or _said(one) != _said(others.get(one.group))
        if hangs and doubtful:
            yield Action(DOUBT, one.group.names, by, None, None, doubtful, one)


def _said(stratum: Stratum | None) -> tuple[str, bool] | None:
    """Give the verdict, and whether the claim is more likely true than not."""
    if stratum is None or stratum.verdict is None:
        return None
    return stratum.verdict.verdict, stratum.verdict.probability >= 0.5


def _ratings(review: Review, by: datetime.date) -> Iterator[Action]:
    """Ratings on which something is to be done: the clearest cases first."""
    found: list[Action] = []
    goes = successors(review.fleet.giving_way)
    for one in review.deciding:
        standing = review.standings.get(one.group)
        if one.verdict is None or standing is None:
            continue
        if not one.in_service and (one.head_type, one.role) in goes:
            continue  # another type has taken its place: nothing hangs on its rating any more
        said, pulled = review.stated_verdict(one), standing.overturn.pulled
        if one.verdict.verdict == HOLDS and said == NOT_SETTLED:
            found.append(Action(PULLED, one.group.names, by, None, None, pulled.pulled, standing))
        elif said == FALLS_SHORT and standing.history.confirmed(FALLS_SHORT):
            # A vendor's rating is of new heads.
            if dict(one.group.further).get(REFURBISHED):
                continue
            failed = one.failures.get(_primary(one), 0)
            found.append(Action(VENDOR, one.group.names, by, None, None, failed, one))
        elif said == NOT_SETTLED:
            chance = one.verdict.probability
            found.append(Action(RATING, one.group.names, by, None, chance, one.heads, one))
    order = (PULLED, VENDOR, RATING)
    yield from sorted(found, key=lambda one: order.index(one.kind))


def _primary(stratum: Stratum) -> str:
    return next(iter(stratum.failures))
