"""What if, on the page: stock and orders at other swap ages, lead times, service levels, prices.

From a spares study and what `decisions.spares.tried` works out: the data for the page's own
script, and the sliders, sentences, picture and table that it fills in.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import HEADS
from headlife.show.markup import Html, escape, table
from headlife.show.sliders import Slider, panel, runs, steps_to
from headlife.show.spares.stock import level_headings
from headlife.show.words.stock import TEMPLATES, stock_name
from headlife.units import WEEKS_PER_YEAR

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy
    from headlife.decisions.spares.tried import AtLeadTime, TriedStock
    from headlife.numbers import Floats
    from headlife.shop import Shop

_SHOWN: Final = (
    '<div aria-live="polite"><p class="line short">'
    '<span class="badge plain" id="what-if-verdict"></span>'
    ' <span id="what-if-proposal"></span></p><p id="what-if-advice"></p>'
    '<p id="what-if-costs"></p><p id="what-if-policy"></p></div>'
    '<figure class="drawn"><svg id="what-if-picture" viewBox="0 0 640 300" role="img" '
    'aria-label="Chance that someone waits by stock level"></svg><figcaption>Bars: the chance that '
    "someone asks for a head and finds none until the next delivery; orange where the stock is "
    "below the planned one.</figcaption></figure>"
)


def what_if(
    study: SparesStudy,
    shop: Shop,
    stocks: Sequence[TriedStock],
    services: Floats,
) -> Html:
    """Make the sliders of the page, opened at the shop's own numbers.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.
    shop : Shop
        The settings.
    stocks : sequence of TriedStock
        Stock by stock.
    services : array of float
        Service levels that can be tried [-].

    Returns
    -------
    Html
        A piece of the page.
    """
    spares, costs, currency = shop.spares, shop.costs, study.budget.currency
    first = stocks[0].now[0].answer
    priced = "total_cost" in first.plan.table
    names = "".join(f"<option>{escape(stock_name(own.now[0].answer))}</option>" for own in stocks)
    choose = (
        '<div class="slider"><label for="what-if-kind">Stock</label>'
        f'<select id="what-if-kind">{names}</select></div>'
    )
    if stocks[0].ages:
        choose += (
            '<div class="choice"><input type="checkbox" id="what-if-now" checked>'
            '<label for="what-if-now">Swapped as now, whatever the swap age</label></div>'
        )
    headings = level_headings(priced, currency)[1:]
    price = float(shop.prices.get(first.head_type) or 0.0)
    shown = Html(_SHOWN) + table(
        headings,
        [],
        caption="Stock level against risk and money at these numbers",
        numbers=tuple(range(1, len(headings))),
    )
    data = {
        "services": [round(float(one), 4) for one in services],
        "waiting_hours": costs.waiting_hours_per_stockout,
        "priced": priced,
        "machine_hour_rate": costs.machine_hour_rate,
        "weeks_per_year": WEEKS_PER_YEAR,
        "order_multiple": spares.order_multiple,
        "currency": currency,
        "templates": TEMPLATES,
        "headings": headings,
        "stocks": [_stock(study, shop, own) for own in stocks],
    }
    return panel(choose, _sliders(shop, stocks[0], services, price, priced), shown, data)


def _sliders(
    shop: Shop, own: TriedStock, services: Floats, price: float, priced: bool
) -> list[Slider]:
    spares, currency = shop.spares, shop.costs.currency
    leads = [one.lead_weeks for one in own.now]
    apart = services[1] - services[0] if services.size > 1 else 0.01
    moved = [
        Slider(
            "service", "Service level", "%", 100.0 * spares.service_level, 100.0 * services[0],
            100.0 * services[-1], round(100.0 * apart, 4),
        ),
        Slider(
            "lead", "Lead time", "weeks", spares.lead_time_weeks, leads[0], leads[-1],
            leads[1] - leads[0],
        ),
        Slider("price", "Price of a head", currency, price, 0.0, *steps_to(price, 100.0)),
    ]  # fmt: skip
    if own.ages:
        low, high, step = _age_range(own)
        moved.insert(1, Slider("age", "Swap age", "h", min(own.rated_hours, high), low, high, step))
    if priced:
        carrying = float(shop.costs.carrying_cost_per_head_year or 0.0)
        moved.append(
            Slider(
                "carrying", "Carrying a head for a year", currency, carrying, 0.0,
                *steps_to(carrying, 100.0),
            )
        )  # fmt: skip
    return moved


def _age_range(own: TriedStock) -> tuple[float, float, float]:
    """Lowest and highest swap age, and how far apart they are [h]."""
    ages = list(own.ages)
    return ages[0], ages[-1], ages[1] - ages[0]


def _stock(study: SparesStudy, shop: Shop, own: TriedStock) -> dict[str, Any]:
    answer = own.now[0].answer
    year = study.budget.line(HEADS, head_type=answer.head_type, site=answer.site or "all")
    with_idle = shop.costs.waiting_hours_per_stockout is None
    return {
        "name": stock_name(answer),
        "rated": own.rated_hours,
        "on_hand": answer.plan.on_hand,
        "on_order": answer.plan.on_order,
        "price": float(shop.prices.get(answer.head_type) or 0.0),
        "year": None if year is None else [year.median, year.low, year.high],
        "now": [_lead(one, with_idle) for one in own.now],
        "ages": list(own.ages),
        "at": [[_lead(one, with_idle) for one in at_age] for at_age in own.ages.values()],
    }


def _lead(one: AtLeadTime, with_idle: bool) -> dict[str, Any]:
    answer = one.answer
    return {
        "weeks": one.lead_weeks,
        "cover": answer.horizon_weeks,
        "shelf": answer.shelf_heads,
        "pmf": [float(f"{chance:.6g}") for chance in answer.demand.pmf],
        "idle": [float(f"{hours:.6g}") for hours in answer.plan.table["idle_hours"]]
        if with_idle
        else [],
        "levels": runs(one.levels),
        "reorder": runs(one.reorder_points),
    }
