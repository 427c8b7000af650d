"""Write a deliberately messy copy of the demo shop's log, with a list of its planted faults.

The workbook is what many hands make of a log: a title, a header in two rows under merged cells,
a hidden column, notes on another sheet, capitals and spaces at random. On top of that, faults are
planted one by one, each on heads of its own; `removals_messy_faults.csv` says in which row, of
what kind, and what `headlife check` calls it. Run `python data_demo/messy.py` to write both again.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook

try:
    from data_demo import generate
except ImportError:  # run as a script from its own folder
    import generate  # type: ignore[no-redef]

SEED = 3
TITLE_ROWS = 2
HEADER_ROWS = 2
ASIDE = "row set aside"
# Upper and lower header cell of each column of the workbook; the settings name them joined.
COLUMNS = {
    "head": ("Head", "serial"),
    "head_type": ("Head", "type"),
    "role": ("Head", "used as"),
    "printer": ("Printer", ""),
    "position": ("Side", ""),
    "date_in": ("In", "date"),
    "hours_in": ("In", "hours"),
    "date_out": ("Out", "date"),
    "hours_out": ("Out", "hours"),
    "reason": ("Out", "why"),
    "material": ("Material", ""),
    "last_good_hours": ("Checked good", ""),
    "site": ("Site", ""),
    "note": ("Remarks", ""),
}
HIDDEN = ("Old number", "")

Rows = list[dict[str, Any]]


@dataclass
class Mess:
    """The log being spoilt: rows, faults planted so far, heads already used for one."""

    rows: Rows
    rng: np.random.Generator
    used: set[str] = field(default_factory=set)
    faults: list[tuple[dict[str, Any], str, str]] = field(default_factory=list)

    def of(self, head: str) -> Rows:
        """Rows of a head, in the order of its hours."""
        own = [row for row in self.rows if row["head"] == head]
        return sorted(own, key=lambda row: (float(row["hours_in"]), row["date_in"]))

    def free(self, wanted: Callable[[Rows], bool]) -> Iterator[Rows]:
        """Heads not used yet whose rows are as wanted, in serial order."""
        for head in sorted({row["head"] for row in self.rows}):
            own = self.of(head)
            if head not in self.used and wanted(own):
                self.used.add(head)
                yield own

    def pick(self, wanted: Callable[[Rows], bool] = lambda own: True) -> Rows:
        """Take the first such head."""
        return next(self.free(wanted))

    def plant(self, row: dict[str, Any], what: str, check: str = ASIDE) -> None:
        """Note a fault planted in a row."""
        self.faults.append((row, what, check))


def _plant_cells(mess: Mess) -> None:
    """Faults that one cell shows by itself."""
    single = [
        ("date_in", "31.02.2025", "a day the calendar does not have"),
        ("date_in", "03/04/2025", "a date that can be read two ways"),
        ("date_out", "last week", "a date in words"),
        ("hours_out", "-12", "negative hours"),
        ("hours_out", "ca. 400", "hours in words"),
        ("hours_out", "1e308", "hours beyond any counter"),
        ("hours_in", "1,204", "a thousands separator"),
        ("head", "", "no serial"),
        ("head", "S\u202e017", "a direction mark inside a serial"),
        ("role", "both", "a role that is none"),
        ("printer", "#REF!", "an error of the spreadsheet"),
        ("position", "", "no position"),
        ("reason", "wornout", "a reason the settings do not know"),
        ("head_type", "Fiber", "a head type the settings do not know"),
        ("last_good_hours", "9999", "known good after it came out"),
        ("hours_out", "=G9+H9", "a formula whose result was never stored"),
    ]
    free = list(islice(mess.free(lambda own: len(own) <= 4), len(single)))
    for (column, value, what), own in zip(single, free, strict=True):
        row = own[-1]  # nothing else hangs on a head's last row
        row[column] = value
        mess.plant(row, what)


def _plant_pairs(mess: Mess) -> None:
    """Faults that only show when rows are compared."""
    own = mess.pick(lambda own: len(own) >= 2 and own[-1]["reason"] == "")
    own[-1]["hours_out"] = f"{float(own[-1]['hours_in']) - 20:.1f}"
    mess.plant(own[-1], "hours out below hours in")

    own = mess.pick(lambda own: own[-1]["reason"] == "swap at rating")
    own[-1]["hours_out"] = f"{float(own[-1]['hours_out']) * 10:.1f}"
    mess.plant(own[-1], "hours out ten times too large")

    own = mess.pick(lambda own: len(own) >= 3)
    again = dict(own[0])
    mess.rows.append(again)
    mess.plant(again, "an installation written down twice")

    own = mess.pick(lambda own: len(own) == 2 and float(own[0]["hours_out"]) > 100)
    span = float(own[1]["hours_out"]) - float(own[1]["hours_in"])
    keep = float(own[0]["hours_out"]) - 10
    own[1]["hours_in"] = f"{max(keep - span, 0):.1f}"
    own[1]["hours_out"] = f"{keep:.1f}"
    own[1]["last_good_hours"] = ""
    mess.plant(own[1], "a counter that runs backwards")

    own = mess.pick(lambda own: own[-1]["reason"] in ("worn out", "clogged for good"))
    other = mess.pick(lambda rows: len(rows) == 1 and rows[0]["date_in"] > own[-1]["date_out"])
    other[0]["head"], other[0]["head_type"] = own[0]["head"], own[0]["head_type"]
    mess.plant(other[0], "the serial of a failed head used again")


def _plant_doubts(mess: Mess) -> None:
    """Disagreements that leave rows usable."""
    own = mess.pick(lambda own: len(own) >= 4)
    mess.rows.remove(own[1])
    mess.plant(own[2], "an installation that nobody wrote down", "hours missing")

    own = mess.pick(lambda own: len(own) >= 3 and _days(own[0]) > 30)
    own[1]["date_in"] = _shift(own[0]["date_out"], -20)
    mess.plant(own[1], "put in before it came out", "dates overlap")
    mess.plant(own[1], "and so while another head was still there", "two heads in one position")

    own = mess.pick(lambda own: len(own) >= 3 and own[0]["role"] == "model")
    own[-1]["role"] = "support"
    mess.plant(own[-1], "a role that changes", "role changes")

    own = mess.pick(lambda own: own[-1]["reason"] == "swap at rating" and len(own) >= 2)
    own[-1]["reason"] = ""
    mess.plant(own[-1], "a removal without a reason", "reason not written down")

    own = mess.pick(lambda own: own[-1]["reason"] == "" and _days(own[-1]) > 120)
    run = float(own[-1]["hours_out"]) - float(own[-1]["hours_in"])
    share = 1 - 90 / _days(own[-1])
    own[-1]["hours_out"] = f"{float(own[-1]['hours_in']) + run * share:.1f}"
    own[-1]["date_out"] = _shift(own[-1]["date_out"], -90)
    mess.plant(own[-1], "a counter not read for three months", "stale reading")

    own = mess.pick(lambda own: own[-1]["reason"] == "")
    own[-1]["date_out"] = own[-1]["date_out"].replace("2026", "2062")
    mess.plant(own[-1], "two digits of a year swapped")

    own = mess.pick(lambda own: len(own) >= 2 and own[-1]["reason"] == "material change")
    own[-1]["head"] = f"{own[-1]['head'][0].lower()}-{own[-1]['head'][1:]}"
    mess.plant(own[-1], "a serial spelt another way", "two spellings")


def _plant_two_in_one_position(mess: Mess) -> None:
    own = mess.pick(
        lambda own: len(own) == 1 and own[0]["reason"] == "material change" and _days(own[0]) > 20
    )
    own[0]["position"] = "right" if own[0]["position"] == "left" else "left"
    mess.plant(own[0], "a head in the position of another", "two heads in one position")


def _plant_pile_up(mess: Mess) -> None:
    """Call swaps at the rating worn out: the counter took the heads out."""
    for own in islice(mess.free(_at_rating), 8):
        own[-1]["reason"] = "worn out"
        mess.plant(own[-1], "a swap at the rating called worn out", "pile-up at the counter")


def _at_rating(own: Rows) -> bool:
    hours = float(own[-1]["hours_out"])
    standard = own[0]["head_type"] == "Standard"
    return standard and own[-1]["reason"] == "swap at rating" and 1190 < hours < 1245


def _days(row: dict[str, Any]) -> int:
    return (date.fromisoformat(row["date_out"]) - date.fromisoformat(row["date_in"])).days


def _shift(day: str, days: int) -> str:
    return date.fromordinal(date.fromisoformat(day).toordinal() + days).isoformat()


def messy_rows() -> tuple[Rows, list[tuple[dict[str, Any], str, str]]]:
    """Spoil the demo log; return its rows and the faults planted."""
    mess = Mess([dict(row) for row in generate.run_shop()], np.random.default_rng(SEED))
    _plant_pile_up(mess)
    _plant_doubts(mess)
    _plant_two_in_one_position(mess)
    _plant_pairs(mess)
    _plant_cells(mess)
    for row in mess.rows:  # no faults: how people type
        if mess.rng.random() < 0.2:
            row["reason"] = row["reason"].title()
        if mess.rng.random() < 0.1:
            row["head"] = f" {row['head']} " if row["head"] else ""
    return mess.rows, mess.faults


def write_workbook(path: Path) -> list[tuple[int, str, str]]:
    """Write the messy workbook; return (row, what, check) of each fault."""
    rows, faults = messy_rows()
    book = Workbook()
    notes = book.active
    notes.title = "Read me"
    notes.append(["Log of all heads. Please write dates as dates!"])
    sheet = book.create_sheet("Log 2023-26")
    sheet["A1"] = "Tidewater Exhibit Workshop: heads"
    uppers = [upper for upper, _ in COLUMNS.values()]
    for place, (upper, lower) in enumerate([*COLUMNS.values(), HIDDEN], start=1):
        new = place > len(uppers) or place == 1 or uppers[place - 2] != upper
        sheet.cell(TITLE_ROWS + 1, place, upper if new else None)
        sheet.cell(TITLE_ROWS + 2, place, lower or None)
    sheet.merge_cells("A3:C3")
    sheet.merge_cells("F3:G3")
    sheet.merge_cells("H3:J3")
    sheet.column_dimensions["O"].hidden = True
    numbers = {}
    number = TITLE_ROWS + HEADER_ROWS
    for i, row in enumerate(rows):
        number += 2 if i % 60 == 59 else 1  # a blank row here and there
        numbers[id(row)] = number
        for place, name in enumerate(COLUMNS, start=1):
            sheet.cell(number, place, _cell(name, row[name]))
        sheet.cell(number, len(COLUMNS) + 1, i)
    stream = io.BytesIO()
    book.save(stream)
    _write_dateless(stream, path)
    return [(numbers[id(row)], what, check) for row, what, check in faults]


def _cell(name: str, value: str) -> Any:
    """Give a cell the type that a spreadsheet would: dates as dates, numbers as numbers."""
    if value == "":
        return None
    if name.startswith("date"):
        try:
            return datetime.fromisoformat(value)
        except ValueError:
            return value
    if "hours" in name:
        try:
            return float(value)
        except ValueError:
            return value
    return value


def _write_dateless(stream: io.BytesIO, path: Path) -> None:
    """Copy a workbook with one fixed time in its archive, so that it is the same each time."""
    with zipfile.ZipFile(stream) as source, zipfile.ZipFile(path, "w") as target:
        for name in sorted(source.namelist()):
            info = zipfile.ZipInfo(name, date_time=(2026, 10, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            data = source.read(name)
            if name == "docProps/core.xml":
                data = re.sub(rb"[0-9-]{10}T[0-9:]{8}Z", b"2026-10-01T00:00:00Z", data)
            target.writestr(info, data)


def main(folder: Path = Path(__file__).parent) -> None:
    """Write the messy workbook, the list of its faults and the settings that read it."""
    faults = write_workbook(folder / "removals_messy.xlsx")
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(["row", "fault", "check"])
    writer.writerows(sorted(faults))
    (folder / "removals_messy_faults.csv").write_bytes(text.getvalue().encode())
    settings = (Path(__file__).parent / "shop.toml").read_text()
    columns = "".join(
        f'{name} = "{f"{upper} {lower}".strip()}"\n' for name, (upper, lower) in COLUMNS.items()
    )
    settings = settings.replace("[reasons.failures]", f"[columns]\n{columns}\n[reasons.failures]")
    settings = "# Settings of the demo shop for the messy workbook.\n" + settings
    (folder / "shop_messy.toml").write_bytes(settings.encode())


if __name__ == "__main__":
    main()
