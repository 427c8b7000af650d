"""What do a planned swap and a failure cost, part by part? From the shop's settings, with units.

A cost that is needed and not stated is named in a sentence; none is guessed. Never weighs them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import DecisionError, SettingsError
from headlife.numbers import fraction, not_negative
from headlife.shop.work import COSTS_OF_A_SWAP

if TYPE_CHECKING:
    from headlife.shop import Shop

# [costs] keys without which no cost per print hour can be given.
_NEEDED: Final = (*COSTS_OF_A_SWAP, "waiting_hours_per_stockout", "carrying_cost_per_head_year")


@dataclass(frozen=True)
class SwapCosts:
    """Cost and standstill of one swap, planned or after a failure.

    A visit is one call at a printer: it ends with one calibration, whether one head was swapped
    or both.
    """

    head: float
    """A new head and the work to put it in, the printer standing meanwhile [currency/head]."""
    visit: float = 0.0
    """Automatic calibration and manual checks at the end of a visit [currency/visit]."""
    scrapped: float = 0.0
    """The build in which a head fails [currency/failure]."""
    waiting: float = 0.0
    """Expected standstill for want of a spare when a head fails [currency/failure]."""
    holding_per_year: float = 0.0
    """A head on the shelf for a year [currency/year]."""
    swap_hours: float = 0.0
    """Standstill to swap one head [h]."""
    visit_hours: float = 0.0
    """Standstill for calibration and checks [h]."""
    waiting_hours: float = 0.0
    """Expected standstill for want of a spare when a head fails [h]."""
    currency: str = "currency units"
    """Label of amounts."""

    def __post_init__(self) -> None:
        for name in ("head", "visit", "scrapped", "waiting", "holding_per_year"):
            not_negative(f"The cost '{name}'", getattr(self, name), "[currency]")
        if self.planned == 0:
            raise DecisionError(
                "A planned swap costs nothing, so every print hour would be best spent swapping; "
                "state the price of a head and the labour of a swap."
            )

    @property
    def planned(self) -> float:
        """A planned swap of one head [currency]."""
        return self.head + self.visit

    @property
    def failure(self) -> float:
        """A head that fails in a build [currency]."""
        return self.planned + self.scrapped + self.waiting

    @property
    def extra(self) -> float:
        """What a failure costs beyond a planned swap [currency]."""
        return self.scrapped + self.waiting

    def with_(self, **changes: Any) -> SwapCosts:
        """Give the same costs with some of them changed.

        Parameters
        ----------
        **changes : float
            New values by the name of the field.

        Returns
        -------
        SwapCosts
            New costs; these stay as they are.
        """
        return replace(self, **changes)


def as_costs(costs: SwapCosts | tuple[float, float]) -> SwapCosts:
    """Accept costs, or a pair (planned swap, failure) [currency].

    Parameters
    ----------
    costs : SwapCosts or tuple of float
        Costs, or a pair [currency].

    Returns
    -------
    SwapCosts
        The costs.

    Raises
    ------
    DecisionError
        A cost is negative or no number, a planned swap is free, or a failure costs less than a
        planned swap.
    """
    if isinstance(costs, SwapCosts):
        return costs
    try:
        planned, failure = costs
    except (TypeError, ValueError):
        raise DecisionError(
            "Costs are a pair (planned swap, failure) or come from the shop's settings; "
            f"got {costs!r}."
        ) from None
    planned = not_negative("The cost of a planned swap", planned, "[currency]")
    failure = not_negative("The cost of a failure", failure, "[currency]")
    if failure < planned:
        raise DecisionError(
            f"A failure costs {failure:g} and a planned swap {planned:g}: a failure includes the "
            "swap, so it cannot be the cheaper one. Correct the two costs."
        )
    return SwapCosts(head=planned, scrapped=failure - planned)


def shop_costs(shop: Shop, head_type: str, service_level: float | None = None) -> SwapCosts:
    """Add up the costs that a shop's settings state for a head type.

    Parameters
    ----------
    shop : Shop
        Its `[costs]` table and the `price` of the head type are used.
    head_type : str
        A head type named in the settings.
    service_level : float, optional
        Probability that a spare is there when a head fails [-]; default the settings'.

    Returns
    -------
    SwapCosts
        The costs.

    Raises
    ------
    SettingsError
        Costs that are needed are not stated; all of them are named.
    DecisionError
        The head type is not in the settings, a swap would be free, or the service level is no
        fraction.
    """
    if head_type not in shop.head_types:
        raise DecisionError(
            f"Head type '{head_type}' is not in the settings; "
            f'add a table [head_types."{head_type}"] with its rated_hours.'
        )
    stated = shop.costs
    price = shop.head_types[head_type].price
    missing = [f"[costs] {name}" for name in _NEEDED if getattr(stated, name) is None]
    if price is None:
        missing.insert(0, f'[head_types."{head_type}"] price')
    if missing:
        raise SettingsError(
            f"The cost of running a '{head_type}' head cannot be told without "
            f"{_listed(missing)}; add {'it' if len(missing) == 1 else 'them'} to the settings "
            "(0 is a number too, if that is what it costs)."
        )
    level = shop.spares.service_level if service_level is None else service_level
    short = 1.0 - fraction("The service level", level)
    rate = _known(stated.machine_hour_rate)
    attended = rate + _known(stated.labour_per_hour)
    swap_hours = _known(stated.swap_labour_hours)
    check_hours = stated.manual_checks * _known(stated.manual_check_hours)
    waiting_hours = short * _known(stated.waiting_hours_per_stockout)
    return SwapCosts(
        head=_known(price) + swap_hours * attended,
        # The automatic calibration needs nobody beside the machine.
        visit=stated.calibration_hours * rate + check_hours * attended,
        scrapped=_known(stated.scrapped_build_cost),
        waiting=waiting_hours * rate,
        holding_per_year=_known(stated.carrying_cost_per_head_year),
        swap_hours=swap_hours,
        visit_hours=stated.calibration_hours + check_hours,
        waiting_hours=waiting_hours,
        currency=stated.currency,
    )


def _known(value: float | None) -> float:
    """Give a value that the check above has found stated."""
    return 0.0 if value is None else float(value)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
