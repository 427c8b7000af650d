"""What do the answers say, in words a technician would use?

From the results of the decisions room; gives sentences for the page, the notebook and the
terminal alike. Never says more than the statistics do: what is not settled is called so, and a
shape that was assumed is not called learned.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.rating import RatingVerdict
    from headlife.decisions.review import StockAnswer, Stratum
    from headlife.decisions.spares.stock import StockPlan

# A head is listed to watch when its chance of finishing the build is below this.
WATCH_BELOW: Final = 0.90
_WATCH_NAMED: Final = 2
_FAR: Final = 5.0  # ratings; a life beyond so many of them is only called longer


def percent(share: float) -> str:
    """Write a share as percent, with a decimal only near 0 and 1 where it matters."""
    if not math.isfinite(share):
        return "unknown"
    value = 100.0 * share
    if value < 0.1:
        return "under 0.1 %"
    if value > 99.9:
        return "over 99.9 %"
    return f"{value:.1f} %" if value < 1 or value > 99 else f"{value:.0f} %"


def chance(probability: float) -> str:
    """Write a probability in whole percent, never as a certainty."""
    if not math.isfinite(probability):
        return "unknown"
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"


def hours(value: float, most: float = 1e7) -> str:
    """Write hours with thousands apart; beyond `most` only that it is more."""
    if math.isnan(value):
        return "unknown"
    if value > most:
        return f"over {most:,.0f} h"
    return f"{value:,.0f} h" if value >= 10 else f"{value:.3g} h"


def span(low: float, high: float) -> str:
    """Write a range of shares: 71 to 96 %."""
    first, last = percent(low), percent(high)
    if first == last:
        return first
    plain = first.removesuffix(" %") if first[0].isdigit() else first
    return f"{plain} to {last}"


def hours_span(low: float, high: float, most: float = 1e7) -> str:
    """Write a range of hours: 2,094 to 22,144 h."""
    first, last = hours(low, most), hours(high, most)
    if first == last:
        return first
    return f"{first.removesuffix(' h') if first[0].isdigit() else first} to {last}"


def counted(number: int, one: str, many: str) -> str:
    """Write a number with its noun: no head, 1 head, 3 heads."""
    if number == 0:
        return f"no {one}"
    return f"{number:,} {one if number == 1 else many}"


def money(amount: float) -> str:
    """Write an amount, thousands apart, with decimals only where it is small."""
    return f"{amount:,.0f}" if abs(amount) >= 100 or amount == 0 else f"{amount:.2f}"


def span_of_heads(low: float, high: float) -> str:
    """Write a range of heads: 3 to 9."""
    return f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}"


def rating_sentence(verdict: RatingVerdict | None) -> str:
    """Say whether the rating holds, how sure that is, and what the records allow."""
    if verdict is None:
        return "No print hours on record yet, so nothing can be said about the rating."
    reach = f"{percent(verdict.share_reaching)} of heads reach {hours(verdict.rated_hours)}"
    bounds = span(*verdict.bounds)
    claim = f"that at least {percent(verdict.share)} do"
    likely = chance(verdict.probability)
    if verdict.verdict == "holds":
        return f"About {reach} ({bounds}). The chance {claim} is {likely}."
    if verdict.verdict == "falls short":
        return (
            f"Only about {reach} ({bounds}); the chance {claim} is {likely}. "
            f"{percent(verdict.share)} of heads reach about {hours_at_share(verdict)}."
        )
    return (
        f"About {reach}, but anything from {bounds} fits these records; "
        f"the chance {claim} is {likely}."
    )


def hours_at_share(verdict: RatingVerdict) -> str:
    """Write the hours that the claimed share of heads reaches, with their range.

    Far past the rating no head was ever seen, so large values are only called large.
    """
    most = _FAR * verdict.rated_hours
    spread = hours_span(*verdict.life_at_share_bounds, most)
    return f"{hours(verdict.life_at_share, most)} ({spread})"


def evidence_sentence(stratum: Stratum) -> str:
    """Say what an answer rests on, and whether the shape of the life was learned or assumed."""
    mode = primary_mode(stratum)
    failures = stratum.failures.get(mode, 0)
    rests = (
        f"Rests on {counted(stratum.heads, 'head', 'heads')}, "
        f"{hours(hours_run(stratum.lives))} of printing and "
        f"{counted(failures, 'failure', 'failures')} by {mode}."
    )
    return f"{rests} {stratum.note}".strip()


def basis(stratum: Stratum) -> str:
    """Say in a few words what an answer rests on: heads, failures, and an assumed shape."""
    mode = primary_mode(stratum)
    failures = counted(stratum.failures.get(mode, 0), "failure", "failures")
    learned = stratum.life is None or stratum.life.shape_learned
    assumed = "" if learned else ", so how risk grows with age is assumed"
    return f"From {counted(stratum.heads, 'head', 'heads')}, {failures} by {mode}{assumed}."


def stock_name(answer: StockAnswer) -> str:
    """Name a stock: its head type, and its site where every site keeps its own."""
    return answer.head_type if answer.site is None else f"{answer.head_type}, {answer.site}"


def stock_sentence(answer: StockAnswer) -> str:
    """Say how many heads to hold, how many to order now and what service that gives."""
    plan = answer.plan
    has = plan.on_hand + plan.on_order
    have = f"{plan.on_hand} on the shelf and {plan.on_order} on order"
    hold = counted(plan.stock_level, "new head", "new heads")
    need = f"{answer.demand.mean:.1f} needed on average in {answer.horizon_weeks:g} weeks"
    if answer.shelf_heads:
        need += f", after {counted(answer.shelf_heads, 'part-used head', 'part-used heads')}"
    served = f"enough with a chance of {chance(plan.service)} ({need}{_for_doubt(plan)})"
    if plan.order_now > 0:
        return f"Hold {hold}, {served}; {have}, so order {plan.order_now} now."
    spare = "exactly that" if has == plan.stock_level else f"{has}, more than that"
    return f"Hold {hold}, {served}; {have} make {spare}, so order none now."


def _for_doubt(plan: StockPlan) -> str:
    """Say how many heads are there because the life is not known exactly."""
    if not plan.added:
        return ""
    them = "one of them" if plan.added == 1 else f"{plan.added} of them"
    return f"; {them} for what is not known of the life"


def last_quarter_sentence(last_quarter: pd.DataFrame, head_type: str) -> str:
    """Say whether the forecast of a quarter ago came true; nothing where there was none."""
    if len(last_quarter) == 0:
        return ""
    own = last_quarter[last_quarter["head_type"] == head_type]
    if len(own) == 0:
        return ""
    row = next(lines(own))
    said = f"{row.low_80}" if row.low_80 == row.high_80 else f"{row.low_80} to {row.high_80}"
    missed = "" if row.inside_80 else ", outside the range"
    return f"For the last quarter we would have said {said} used up; it was {row.happened}{missed}."


def watch_sentence(watch: pd.DataFrame, build_hours: float) -> str:
    """Say which heads of a stratum are likely not to finish the next long build."""
    build = f"{build_hours:g}-hour build"
    if len(watch) == 0:
        return "No head of this kind is in service."
    known = watch[watch["probability"].notna()]
    if len(known) == 0:
        return "Their chances are unknown: no print hours on record yet."
    few = known[known["probability"].round(2) < WATCH_BELOW]  # as it is written
    if len(few) == 0:
        lowest = _placed(next(lines(known)))
        return f"None below {percent(WATCH_BELOW)} for a {build}; the lowest is {lowest}."
    named = [_placed(row) for row in lines(few.head(_WATCH_NAMED))]
    more = len(few) - len(named)
    rest = f" and {more} more" if more else ""
    return f"{', '.join(named)}{rest}: below {percent(WATCH_BELOW)} to finish a {build}."


def _placed(row: Any) -> str:
    where = f"{row.head} in {row.printer} {row.position} at {hours(row.age_hours)}"
    return f"{where} ({chance(row.probability)})"


def stratum_watch(watch: pd.DataFrame, stratum: Stratum) -> pd.DataFrame:
    """Take the rows of the watch list that belong to a head type and role."""
    mine = (watch["head_type"] == stratum.head_type) & (watch["role"] == stratum.role)
    return watch[mine]


def hours_run(lives: pd.DataFrame) -> float:
    """Add up the print hours on record of these lives [h]."""
    return float((lives["exit_hours"] - lives["entry_hours"]).sum())


def primary_mode(stratum: Stratum) -> str:
    """Name the failure mode that a stratum's rating is about."""
    return next(iter(stratum.failures), "wear")


def lines(frame: pd.DataFrame) -> Iterator[Any]:
    """Go through the rows of a table by name."""
    yield from frame.itertuples(index=False)
