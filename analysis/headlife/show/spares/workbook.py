"""The budget and the stock as a workbook that a buyer opens.

From a `SparesStudy`; one sheet for each question, amounts as numbers, names as text whatever they
begin with. Same study, same bytes. Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.budget import ALL
from headlife.show.words.budget import budget_sentence, coming_sentence, pooling_sentence
from headlife.show.words.stock import note_sentence, order_sentence, stock_name, stock_sentence
from headlife.show.xlsx import Row, workbook_bytes

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy

_IN_WORDS: Final = (stock_sentence, order_sentence, note_sentence)
_WIDTHS: Final = (18, 16, 16, 20, 12)


def budget_workbook(study: SparesStudy) -> bytes:
    """Make the workbook.

    Parameters
    ----------
    study : SparesStudy
        What to write.

    Returns
    -------
    bytes
        The XLSX file.
    """
    return workbook_bytes(
        {
            "Read me": _about(study),
            "Order now": _orders(study),
            "Budget": _budget(study, detail=False),
            "Budget by type and site": _budget(study, detail=True),
            "Stock levels": _levels(study),
            "Week by week": _weeks(study),
        },
        _WIDTHS,
    )


def _about(study: SparesStudy) -> list[Row]:
    return [
        ("Spares and budget", study.shop_name),
        ("As of", study.as_of.date().isoformat()),
        ("Budget", budget_sentence(study.budget)),
        *((("New printers", coming),) if (coming := coming_sentence(study)) else ()),
        ("Sites", pooling_sentence(study)),
        ("Bands", "low and high hold four futures of five (80 %); sums have bands of their own"),
        ("Records", f"{study.source}, SHA-256 {study.records_sha256}"),
        ("Settings", f"SHA-256 {study.shop_sha256}"),
        ("Seed", study.seed),
        ("headlife", study.version),
    ]


def _orders(study: SparesStudy) -> list[Row]:
    rows: list[Row] = [
        (
            "Head type",
            "Order now [heads]",
            "Stock level [heads]",
            "Order again at [heads]",
            "On hand",
            "On order",
            "Service",
            "Fill rate",
            "Printers wait [h]",
            "In words",
        )
    ]
    for answer in study.stock:
        plan = answer.plan
        rows.append(
            (
                stock_name(answer),
                plan.order_now,
                plan.stock_level,
                answer.reorder_point,
                plan.on_hand,
                plan.on_order,
                plan.service,
                plan.fill_rate,
                answer.idle_hours,
                " ".join(say(answer) for say in _IN_WORDS).strip(),
            )
        )
    return rows


def _budget(study: SparesStudy, *, detail: bool) -> list[Row]:
    lines = study.budget.lines
    whole = (lines["head_type"] == ALL) & (lines["site"] == ALL)
    rows: list[Row] = [
        ("Period", "Head type", "Site", "Item", "Kind", "Unit", "Median", "Low", "High", "Mean")
    ]
    columns = ["period", "head_type", "site", "item", "kind", "unit", "median", "low", "high"]
    kept = lines[~whole if detail else whole][[*columns, "mean"]]
    rows += kept.itertuples(index=False, name=None)
    return rows


def _levels(study: SparesStudy) -> list[Row]:
    rows: list[Row] = []
    for answer in study.stock:
        table = answer.plan.table
        if not rows:
            rows.append(("head type", *(name.replace("_", " ") for name in table.columns)))
        rows += [(stock_name(answer), *line) for line in table.itertuples(index=False, name=None)]
    return rows


def _weeks(study: SparesStudy) -> list[Row]:
    weekly = study.weekly.assign(begins=[day.date().isoformat() for day in study.weekly["begins"]])
    rows: list[Row] = [
        (
            "head type",
            "week",
            "begins",
            "failures, mean",
            "planned, mean",
            "used up so far, median",
            "low",
            "high",
        )
    ]
    rows += weekly.itertuples(index=False, name=None)
    return rows
