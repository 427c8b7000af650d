"""The sheet of assumptions: everything that orders and budget rest on, with where it comes from.

From a `SparesStudy`; computes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.words.purchases import AT_TODAYS_PRICES
from headlife.show.xlsx import Row
from headlife.show.xlsx_report import DAY, ReportSheet

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy

_STATED: Final = "settings"
_RULE: Final = "how it is counted"
_COSTS: Final = {
    "labour_per_hour": "An hour of work",
    "machine_hour_rate": "An hour that a printer stands",
    "swap_labour_hours": "Work for one swap [h]",
    "calibration_hours": "Calibration after a visit [h]",
    "manual_checks": "Checks after a visit",
    "manual_check_hours": "Work for one check [h]",
    "scrapped_build_cost": "A spoiled build",
    "waiting_hours_per_stockout": "Waiting when no spare is there [h]",
    "carrying_cost_per_head_year": "A head on the shelf for a year",
}
_RULES: Final = (
    ("Bands", "low and high hold four futures of five (80 %); sums have ranges of their own"),
    ("Quarters", "calendar quarters; of a week that a quarter's end cuts, heads fall before it in "
     "proportion to its days"),
    ("Orders", "at every review up to today's stock level, in whole multiples; the level is worked "
     "out anew at each review"),
    ("Payment", "on arrival, at today's price"),
    ("Last year", AT_TODAYS_PRICES),
    ("Not in the budget", "waiting for heads, and a change of the stock level"),
)  # fmt: skip


def assumptions_sheet(study: SparesStudy) -> ReportSheet:
    """Tabulate what the answers rest on.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    ReportSheet
        The sheet.
    """
    ordering, costs = study.spares, study.costs
    rows: list[Row] = [
        ["As of", study.as_of.date(), "records"],
        ["Records", f"{study.source}, SHA-256 {study.records_sha256}", "records"],
        ["Settings", f"SHA-256 {study.shop_sha256}", _STATED],
        ["Lead time [weeks]", ordering.lead_time_weeks, _STATED],
        ["Spread of the lead time [weeks]", ordering.lead_time_sd_weeks, _STATED],
        ["From one review to the next [weeks]", ordering.review_weeks, _STATED]
        if not ordering.order_days
        else ["Ordered on (month-day)", ", ".join(ordering.order_days), _STATED],
        ["Service level", ordering.service_level, _STATED],
        ["Ordered in multiples of [heads]", ordering.order_multiple, _STATED],
        ["Part-used heads go back in first", "yes" if ordering.use_shelf else "no", _STATED],
    ]
    rows += [[f"Price of a {name} head", price, _stated(price)] for name, price in _prices(study)]
    rows += [
        [said, getattr(costs, key), _stated(getattr(costs, key))] for key, said in _COSTS.items()
    ]
    rows += [[name, said, _RULE] for name, said in _RULES]
    rows += [["Seed of the random numbers", study.seed, _STATED], ["headlife", study.version, ""]]
    return ReportSheet(
        "Assumptions",
        "What these answers rest on",
        f"Amounts in {costs.currency}.",
        ("What", "Value", "From"),
        rows,
        (40, 70, 18),
        (None, "General", None),
        row_formats=[DAY],
        left=True,
    )


def _prices(study: SparesStudy) -> list[tuple[str, float | None]]:
    return list(study.prices.items())


def _stated(value: object) -> str:
    return "not stated" if value is None else _STATED
