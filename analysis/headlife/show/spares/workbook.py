"""The budget and the stock as a workbook that a buyer opens.

From a `SparesStudy`; writes one XLSX with a sheet for each question, amounts as numbers, names as
text whatever they begin with. Same study, same bytes. Computes no answer.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import ALL
from headlife.errors import HeadlifeError
from headlife.show.files import put_in_place
from headlife.show.sentences import stock_name, stock_sentence
from headlife.show.spares_answers import (
    budget_sentence,
    coming_sentence,
    order_sentence,
    pooling_sentence,
)

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy

# A fixed day, so that the same study gives the same bytes; a workbook knows no day of its own.
_WRITTEN: Final = datetime(1980, 1, 1)
_SAVED: Final = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*")
_WIDTHS: Final = (18, 16, 16, 20, 12, 12, 12, 12, 12, 12)
_AMOUNT: Final = "#,##0.00"

Row = Sequence[Any]


def write_workbook(study: SparesStudy, path: Path) -> None:
    """Write the workbook so that it appears whole or not at all.

    Parameters
    ----------
    study : SparesStudy
        What to write.
    path : Path
        Where.

    Raises
    ------
    HeadlifeError
        The file cannot be written there.
    """
    data = workbook_bytes(study)
    try:
        put_in_place(path, data)
    except OSError as problem:
        raise HeadlifeError(
            f"The workbook cannot be written to {path}: {problem.strerror}."
        ) from problem


def workbook_bytes(study: SparesStudy) -> bytes:
    """Make the workbook in memory.

    Parameters
    ----------
    study : SparesStudy
        What to write.

    Returns
    -------
    bytes
        The XLSX file.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for title, rows in (
        ("Read me", _about(study)),
        ("Order now", _orders(study)),
        ("Budget", _budget(study, detail=False)),
        ("Budget by type and site", _budget(study, detail=True)),
        ("Stock levels", _levels(study)),
        ("Week by week", _weeks(study)),
    ):
        _sheet(book.create_sheet(title), rows)
    book.properties.creator = "headlife"
    book.properties.created = book.properties.modified = _WRITTEN
    stream = io.BytesIO()
    book.save(stream)
    return _without_clock(stream.getvalue())


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
                f"{stock_sentence(answer)} {order_sentence(answer)} {answer.note}".strip(),
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


def _sheet(sheet: Any, rows: Sequence[Row]) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    for number, row in enumerate(rows, start=1):
        for place, value in enumerate(row, start=1):
            cell = sheet.cell(row=number, column=place)
            value = value.item() if hasattr(value, "item") else value
            if isinstance(value, str):
                cell.value = "".join(sign for sign in value if sign.isprintable())
                cell.data_type = "s"  # text, whatever it begins with
                cell.quotePrefix = value[:1] in "=+-@"
            else:
                cell.value = value
                if isinstance(value, float):
                    cell.number_format = _AMOUNT
            if number == 1:
                cell.font = Font(bold=True)
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    for place, width in enumerate(_WIDTHS, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "A2"


def _without_clock(data: bytes) -> bytes:
    """Give every part of the archive the same day."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in source.namelist():
            part = zipfile.ZipInfo(name, _WRITTEN.timetuple()[:6])
            part.compress_type = zipfile.ZIP_DEFLATED
            # The writer stamps the hour at which it saves, whatever it is told.
            target.writestr(part, _SAVED.sub(rb"\g<1>1980-01-01T00:00:00Z", source.read(name)))
    return stream.getvalue()
