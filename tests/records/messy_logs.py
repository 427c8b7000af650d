"""Logs as shops keep them, written from a fleet with known truth: shapes and clocks.

`python -m tests.records.messy_logs` reads every one of them and prints how many lives come out
right and how many lines of settings it takes. Languages and pens are `messy_pens`'.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook
from tests.records.fleets import FIRST_DAY, POSITIONS, Fleet, Stint, fleet, with_a_new_meter

SHARED = """
name = "Messy shop"
[reasons.failures]
"worn out" = "wear"
"crashed" = "damage"
[reasons.suspensions]
"swap at rating" = "planned swap"
"new material" = "material change"
[head_types.Standard]
rated_hours = 900
[head_types.Fibre]
rated_hours = 600
[spares]
lead_time_weeks = 6
"""
Row = Sequence[Any]


@dataclass(frozen=True)
class Log:
    """A log: its files, the settings that read it, and the truth."""

    name: str
    files: dict[str, bytes]
    """The first is the one named to the reader."""
    settings: str
    """Lines beside those that every shop states."""
    truth: Fleet
    exact: bool = True
    """True when the log holds every life's hours; else they lie in a range."""

    @property
    def lines(self) -> int:
        """How many lines of settings the log needs."""
        return sum(bool(line.strip()) for line in self.settings.splitlines())

    def write(self, folder: Path) -> tuple[Path, Path]:
        """Write files and settings; give the paths of the log and of the settings."""
        for name, data in self.files.items():
            (folder / name).write_bytes(data)
        shop = folder / "shop.toml"
        top, tables = split_settings(self.settings)
        shop.write_text(f"{top}\n{SHARED}\n{tables}", encoding="utf-8")
        return folder / next(iter(self.files)), shop


def split_settings(text: str) -> tuple[str, str]:
    """Keys before the first table have to come first in the file."""
    place = text.find("[")
    return ("", text) if place <= 0 else (text[:place], text[place:])


def as_csv(rows: Sequence[Row], delimiter: str = ",") -> bytes:
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue().encode()


def as_book(
    sheets: dict[str, Sequence[Row]], merge: dict[str, Sequence[str]] | None = None
) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(list(row))
        for cells in (merge or {}).get(name, ()):
            sheet.merge_cells(cells)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def plain(made: Fleet) -> list[dict[str, Any]]:
    """Give stints as rows under standard names."""
    return [
        {
            "head": one.head,
            "head_type": one.head_type,
            "role": one.role,
            "printer": one.printer,
            "position": one.position,
            "site": one.site,
            "date_in": one.day_in,
            "hours_in": one.hours_in,
            "date_out": one.day_out,
            "hours_out": one.hours_out,
            "printer_hours_in": one.meter_in,
            "printer_hours_out": one.meter_out,
            "reason": one.reason or "",
            "refurbished": "yes" if one.refurbished else "",
        }
        for one in made.stints
    ]


CORE = ("head", "head_type", "role", "printer", "position", "date_in")


def table(rows: Sequence[dict[str, Any]], names: Sequence[str]) -> list[Row]:
    return [tuple(names), *(tuple(row[name] for name in names) for row in rows)]


def by_counter(seed: int) -> Log:
    made = fleet(seed)
    names = (*CORE, "hours_in", "date_out", "hours_out", "reason")
    return Log(
        "stretches, head's counter", {"log.csv": as_csv(table(plain(made), names))}, "", made
    )


def by_meter_as_hours(seed: int) -> Log:
    """The printer's meter stands in the columns of hours; totals and headings in between."""
    made = fleet(seed)
    rows = [("Head log of the workshop",), ()]
    rows += [("Serial", "Type", "Use", "Machine", "Side", "Fitted", "Hours at start")]
    rows[-1] += ("Removed", "Hours at end", "Why")
    total = 0.0
    for i, one in enumerate(made.stints):
        rows.append(
            (one.head, one.head_type, one.role, one.printer, one.position, one.day_in, one.meter_in)
            + (one.day_out, one.meter_out, one.reason)
        )
        total += one.meter_out - one.meter_in
        if i % 12 == 11:
            rows += [("Total", "", "", "", "", "", "", "", round(total, 1), ""), ()]
            rows += [("from here on written by the night shift",)]
    settings = """
[intake]
hours = "printer"
[columns]
head = "Serial"
head_type = "Type"
role = "Use"
printer = "Machine"
position = "Side"
date_in = "Fitted"
hours_in = "Hours at start"
date_out = "Removed"
hours_out = "Hours at end"
reason = "Why"
"""
    return Log(
        "stretches, printer's meter, sums", {"log.xlsx": as_book({"Log": rows})}, settings, made
    )


def both_clocks(seed: int) -> Log:
    """Both clocks side by side; the head's counter was not always read."""
    made = fleet(seed)
    rng = np.random.default_rng(seed)
    rows = plain(made)
    for row in rows:
        if rng.random() < 0.4:
            row["hours_in"] = row["hours_out"] = ""
    names = (*CORE, "hours_in", "printer_hours_in", "date_out", "hours_out", "printer_hours_out")
    data = as_csv(table(rows, (*names, "reason")))
    return Log("stretches, both clocks with gaps", {"log.csv": data}, "", made)


def days_and_weekly_hours(seed: int) -> Log:
    """Days only; the shop states print hours a week."""
    made = fleet(seed)
    rows = plain(made)
    for row in rows:
        if not row["reason"]:
            row["date_out"] = ""
    weeks = ((made.last_day - FIRST_DAY).days + 1) / 7
    usage = "\n".join(
        f"{name} = {round(float(meter[-1] - meter[0]) / weeks, 0)}"
        for name, meter in made.meters.items()
    )
    settings = f"[intake]\nas_of = {made.last_day}\n[usage]\n{usage}\n"
    names = (*CORE, "date_out", "reason")
    return Log(
        "stretches, days and hours a week",
        {"log.csv": as_csv(table(rows, names))},
        settings,
        made,
        False,
    )


def days_and_readings(seed: int) -> Log:
    """Days only in a workbook with merged printers; meters are read every few weeks elsewhere."""
    made = fleet(seed)
    rows: list[Row] = [("Workshop heads", "", "as of", made.last_day), ()]
    rows.append(("printer", *(name for name in CORE if name != "printer"), "date_out", "reason"))
    merged, start = [], 0
    stints = sorted(made.stints, key=lambda one: (one.printer, one.day_in))
    for i, one in enumerate(stints):
        top = i == 0 or stints[i - 1].printer != one.printer
        last = i + 1 == len(stints) or stints[i + 1].printer != one.printer
        rows.append(
            (one.printer if top else None, one.head, one.head_type, one.role, one.position)
            + (one.day_in, one.day_out if one.reason else None, one.reason)
        )
        start = len(rows) if top else start
        if last and len(rows) > start:
            merged.append(f"A{start}:A{len(rows)}")
    readings: list[Row] = [("Date", *made.meters)]
    for day in range(-1, (made.last_day - FIRST_DAY).days, 21):
        on = FIRST_DAY + timedelta(days=max(day, 0))
        readings.append((on, *(made.meter_on(name, on) for name in made.meters)))
    on = made.last_day
    readings.append((on, *(made.meter_on(name, on) for name in made.meters)))
    book = as_book({"Heads": rows, "Meters": readings}, {"Heads": merged})
    settings = """
[intake]
sheet = "Heads"
as_of = "D1"
readings = { sheet = "Meters", date = "Date" }
"""
    return Log("stretches, days and meter readings", {"log.xlsx": book}, settings, made, False)


def weekly(made: Fleet) -> dict[str, float]:
    """Give what each printer really printed a week."""
    weeks = ((made.last_day - FIRST_DAY).days + 1) / 7
    return {name: float(meter[-1] - meter[0]) / weeks for name, meter in made.meters.items()}


def events(
    made: Fleet, last_reading: bool = True
) -> list[tuple[date, tuple[int, int], dict[str, Any]]]:
    """Give events in the order in which they happened."""
    found = []
    for one in made.stints:
        base = {"head": one.head, "head_type": one.head_type, "printer": one.printer}
        base |= {"position": one.position, "refurbished": "yes" if one.refurbished else ""}
        put = base | {"event": "fitted", "hours": one.hours_in, "printer_hours": one.meter_in}
        took = base | {"event": "taken out", "hours": one.hours_out, "printer_hours": one.meter_out}
        took |= {"reason": one.reason, "refurbished": ""}
        found.append((one.day_in, (one.order[0], 1), put | {"reason": ""}))
        if one.reason:
            found.append((one.day_out, (one.order[1], 0), took))
        elif last_reading:
            found.append((one.day_out, (one.order[1], 0), took | {"event": "read", "reason": ""}))
    return sorted(found, key=lambda one: (one[0], one[1]))


def event_table(made: Fleet, names: Sequence[str], **options: Any) -> list[Row]:
    rows = [tuple(names)]
    for day, _, one in events(made, **options):
        rows.append(tuple((one | {"date": day}).get(name, "") for name in names))
    return rows


SIDES = """[positions]
left = "model"
right = "support"
"""
EVENTS = """
[intake]
shape = "events"
[intake.events]
"fitted" = "installed"
"taken out" = "removed"
"read" = "reading"
[positions]
left = "model"
right = "support"
"""
EVENT_NAMES = ("date", "event", "head", "head_type", "printer", "position")


def events_by_meter(seed: int) -> Log:
    made = fleet(seed, refurbish=True)
    names = (*EVENT_NAMES, "printer_hours", "refurbished", "reason")
    data = as_csv(event_table(made, names), delimiter=";")
    return Log("events, printer's meter, refurbished", {"log.csv": data}, EVENTS, made)


def events_by_counter(seed: int) -> Log:
    made = fleet(seed)
    data = as_csv(event_table(made, (*EVENT_NAMES, "hours", "reason")))
    return Log("events, head's counter", {"log.csv": data}, EVENTS, made)


def events_days_only(seed: int) -> Log:
    made = fleet(seed)
    data = as_csv(event_table(made, (*EVENT_NAMES, "reason"), last_reading=False))
    mean = np.mean(list(weekly(made).values()))
    more = f"as_of = {made.last_day}\nweekly_hours = {mean:.0f}\nusage_range = 0.6\n"
    settings = EVENTS.replace('shape = "events"\n', f'shape = "events"\n{more}')
    return Log("events, days and hours a week", {"log.csv": data}, settings, made, False)


def printers_in_rows(seed: int) -> Log:
    """One row a printer and quarter, with a group of columns for each side."""
    made = fleet(seed, moves=False)
    own = ("serial", "type", "since", "meter", "until", "meter then", "why")
    header = ["Printer", "Site", *(f"{side} {name}" for side in POSITIONS for name in own)]
    rows: list[Row] = [tuple(header)]
    for name in made.meters:
        sides = {
            side: [one for one in made.stints if (one.printer, one.position) == (name, side)]
            for side in POSITIONS
        }
        for i in range(max(map(len, sides.values()))):
            row: list[Any] = [name, "Mill Yard"]
            for side in POSITIONS:
                if i < len(sides[side]):
                    one = sides[side][i]
                    row += [one.head, one.head_type, one.day_in, one.meter_in, one.day_out]
                    row += [one.meter_out, one.reason]
                else:
                    row += [None] * len(own)
            rows.append(tuple(row))
    group = "\n".join(
        f'[intake.groups.{side}]\nhead = "{side} serial"\nhead_type = "{side} type"\n'
        f'date_in = "{side} since"\nprinter_hours_in = "{side} meter"\ndate_out = "{side} until"\n'
        f'printer_hours_out = "{side} meter then"\nreason = "{side} why"'
        for side in POSITIONS
    )
    settings = (
        f'[intake]\nshape = "printers"\n{group}\n[positions]\nleft = "model"\nright = "support"\n'
    )
    return Log(
        "printers in rows, printer's meter", {"log.xlsx": as_book({"Fleet": rows})}, settings, made
    )


def a_sheet_a_printer(seed: int) -> Log:
    """One sheet a printer, the head's counter; heads that are in have no day of removal."""
    made = fleet(seed)
    names = (
        "head",
        "head_type",
        "position",
        "date_in",
        "hours_in",
        "date_out",
        "hours_out",
        "reason",
    )
    sheets: dict[str, list[Row]] = {}
    for printer in made.meters:
        rows = [row for row in plain(made) if row["printer"] == printer]
        for row in rows:
            row["date_out"] = row["date_out"] if row["reason"] else None
        sheets[printer] = [(f"Printer {printer}",), (), *table(rows, names)]
    sheets["Notes"] = [("Swap heads only when the machine is cold.",)]
    settings = f"""
[intake]
sheets = ["{'", "'.join(made.meters)}"]
sheet_is = "printer"
as_of = {made.last_day}
[positions]
left = "model"
right = "support"
"""
    return Log("a sheet a printer, head's counter", {"log.xlsx": as_book(sheets)}, settings, made)


def sheets_of_events(seed: int) -> Log:
    """One sheet a printer, its rows events, the printer's meter."""
    made = fleet(seed)
    names = ("date", "event", "head", "head_type", "position", "printer_hours", "reason")
    sheets: dict[str, list[Row]] = {name: [names] for name in made.meters}
    for day, _, one in events(made):
        sheets[one["printer"]].append(tuple((one | {"date": day}).get(name) for name in names))
    settings = EVENTS.replace(
        'shape = "events"', 'shape = "events"\nsheets = "all"\nsheet_is = "printer"'
    )
    return Log("sheets of events, printer's meter", {"log.xlsx": as_book(sheets)}, settings, made)


def orders(made: Fleet, hours: Callable[[Stint | None, Stint | None], Any], seed: int) -> list[Row]:
    """An export of work orders: heads swapped among belts greased."""
    rng = np.random.default_rng(seed)
    rows: list[tuple[date, int, Row]] = []
    for position in POSITIONS:
        for printer in made.meters:
            own = [one for one in made.stints if (one.printer, one.position) == (printer, position)]
            for before, after in zip([None, *own], [*own, None], strict=True):
                one = after or before
                assert one is not None
                if after is None and one.reason is None:
                    continue
                day = after.day_in if after else one.day_out
                rows.append(
                    (
                        day,
                        after.order[0] if after else one.order[1],
                        ("Head swap", day, printer, position)
                        + (before.head if before else "", after.head if after else "")
                        + (after.head_type if after else "", hours(before, after))
                        + (before.reason if before else "",),
                    )
                )
    for i in range(25):
        day = FIRST_DAY + timedelta(days=int(rng.integers(0, 300)))
        printer = str(rng.choice(list(made.meters)))
        what = str(rng.choice(["Grease rails", "Replace belt", "Clean chamber"]))
        rows.append((day, 10**6 + i, (what, day, printer, "", f"B-{i}", "", "", "", "")))
    rows.sort(key=lambda one: (one[0], one[1]))
    return [(f"WO-{1000 + i}", *row) for i, (_, _, row) in enumerate(rows)]


ORDERS_HEADER = ("Order", "Work", "Done on", "Machine", "Side", "Serial out", "Serial in")
ORDERS = """
[intake]
shape = "orders"
[intake.only]
"Work" = ["Head swap"]
[columns]
date = "Done on"
printer = "Machine"
position = "Side"
head_out = "Serial out"
head_in = "Serial in"
head_type = "Type in"
reason = "Cause"
[positions]
left = "model"
right = "support"
"""


def orders_by_meter(seed: int) -> Log:
    made = fleet(seed)

    def meter(before: Stint | None, after: Stint | None) -> float:
        return after.meter_in if after else before.meter_out  # type: ignore[union-attr]

    rows = [(*ORDERS_HEADER, "Type in", "Machine hours", "Cause"), *orders(made, meter, seed)]
    readings = [("date", "printer", "printer_hours")]
    readings += [(made.last_day, name, made.meter_on(name, made.last_day)) for name in made.meters]
    settings = ORDERS.replace(
        "[positions]", 'printer_hours = "Machine hours"\n[positions]'
    ).replace(
        "[intake.only]", 'readings = { file = "meters.csv", printer = "printer" }\n[intake.only]'
    )
    files = {"orders.csv": as_csv(rows), "meters.csv": as_csv(readings)}
    return Log("work orders, printer's meter", files, settings, made)


def orders_by_counter(seed: int) -> Log:
    """Orders that tell the hours of the head that came out; those in service were not read."""
    made = fleet(seed)

    def counter(before: Stint | None, after: Stint | None) -> Any:
        return before.hours_out if before else ""

    rows = [(*ORDERS_HEADER, "Type in", "Hours out", "Cause"), *orders(made, counter, seed)]
    settings = ORDERS.replace("[positions]", 'hours = "Hours out"\n[positions]')
    return Log("work orders, head's counter", {"orders.csv": as_csv(rows)}, settings, made)


def two_years(seed: int) -> Log:
    """Two files, the printer's meter beside, one meter replaced on the way."""
    made = fleet(seed)
    made = with_a_new_meter(made, "Lynx", FIRST_DAY + timedelta(days=200))
    day, last = made.replaced["Lynx"]
    names = (*CORE, "printer_hours_in", "date_out", "printer_hours_out", "reason")
    rows = sorted(plain(made), key=lambda row: row["date_in"])
    cut = len(rows) // 2
    files = {
        "log_2024.csv": as_csv(table(rows[cut:], names)),
        "log_2023.csv": as_csv(table(rows[:cut], names)),
    }
    settings = f"""
[intake]
more_files = ["log_2023.csv"]
meter_changes = [{{ printer = "Lynx", on = {day}, last = {last} }}]
"""
    return Log("two files, meter replaced", files, settings, made)


def filled_down(seed: int) -> Log:
    """A printer's name stands once over its rows, its site never; sums below each printer."""
    made = fleet(seed)
    rows: list[Row] = [("Drucker", "head", "head_type", "position", "date_in", "hours_in")]
    rows[0] += ("date_out", "hours_out", "reason")  # type: ignore[operator]
    for printer in made.meters:
        own = [one for one in made.stints if one.printer == printer]
        for i, one in enumerate(own):
            rows.append(
                ("" if i else printer, one.head, one.head_type, one.position, one.day_in)
                + (one.hours_in, one.day_out, one.hours_out, one.reason or "")
            )
        run = sum(one.hours_out - one.hours_in for one in own)
        rows += [("Summe", "", "", "", "", "", "", round(run, 1), ""), ("",) * 9]
        rows += [rows[0]]
    settings = """
[intake]
fill_down = ["printer"]
always = { site = "Mill Yard" }
[columns]
printer = "Drucker"
[positions]
left = "model"
right = "support"
"""
    return Log("filled down, sums, headers again", {"log.csv": as_csv(rows, ";")}, settings, made)


def no_removal_yet(seed: int) -> Log:
    """A young fleet: heads went in, none came out, and nobody read a counter."""
    made = fleet(seed, weeks=2, moves=False)
    rows = [row for row in plain(made) if not row["reason"]]
    names = CORE
    weekly = np.mean([float(meter[-1] - meter[0]) / 2 for meter in made.meters.values()])
    settings = (
        f"[intake]\nas_of = {made.last_day}\nweekly_hours = {weekly:.0f}\nusage_range = 0.8\n"
    )
    made = Fleet([one for one in made.stints if not one.reason], made.last_day, made.meters)
    return Log(
        "no removal yet, days only", {"log.csv": as_csv(table(rows, names))}, settings, made, False
    )


LOGS: tuple[Callable[[int], Log], ...] = (
    by_counter,
    by_meter_as_hours,
    both_clocks,
    days_and_weekly_hours,
    days_and_readings,
    events_by_meter,
    events_by_counter,
    events_days_only,
    printers_in_rows,
    a_sheet_a_printer,
    sheets_of_events,
    orders_by_meter,
    orders_by_counter,
    two_years,
    filled_down,
    no_removal_yet,
)


@dataclass
class Score:
    """How the lives of a log came out."""

    true: int
    right: int = 0
    in_range: int = 0
    flagged: int = 0
    wrong: list[str] = field(default_factory=list)


def score(log: Log, folder: Path) -> tuple[Score, Any]:
    """Read a log and compare its lives with the truth."""
    import headlife as hl

    path, settings = log.write(folder)
    shop = hl.read_shop(settings)
    records = hl.read_records(path, shop, unknown="set aside")
    lives = hl.lives(records).set_index("head")
    doubts = set(records.set_aside["head"].dropna()) | set(records.findings["head"])
    result = Score(len(log.truth.lives()))
    for name, true in log.truth.lives().items():
        if name not in lives.index:
            found = name in doubts or name.split(" (")[0] in doubts
            result.flagged += found
            result.wrong += [] if found else [f"{name}: missing without a word"]
            continue
        life = lives.loc[name]
        same_end = (life["mode"] == true.mode) or (life["mode"] is None and true.mode is None)
        exact = life["exit_high"] - life["exit_low"] <= 1.0
        if same_end and abs(life["exit_hours"] - true.hours) <= 1.0 and exact:
            result.right += 1
        elif same_end and life["exit_low"] - 1 <= true.hours <= life["exit_high"] + 1 and not exact:
            result.in_range += 1
        elif true.in_service and life["in_service"] and life["exit_hours"] < true.hours:
            result.in_range += 1  # known good until its last reading; its age is projected
        elif name in doubts:
            result.flagged += 1
        else:
            result.wrong.append(
                f"{name}: {life['exit_hours']:.1f} ({life['exit_low']:.1f} to "
                f"{life['exit_high']:.1f}) {life['mode']}, truly {true.hours:.1f} {true.mode}"
            )
    result.wrong += [f"{name}: no such life" for name in lives.index.difference(log.truth.lives())]
    return result, records


def main(seed: int = 1) -> None:
    """Print the table."""
    import tempfile

    print(f"{'log':<40}{'lives':>6}{'right':>7}{'range':>7}{'flagged':>9}{'wrong':>7}{'lines':>7}")
    for make in LOGS:
        with tempfile.TemporaryDirectory() as folder:
            log = make(seed)
            found, _ = score(log, Path(folder))
            print(
                f"{log.name:<40}{found.true:>6}{found.right:>7}{found.in_range:>7}"
                f"{found.flagged:>9}{len(found.wrong):>7}{log.lines:>7}"
            )
            for line in found.wrong[:3]:
                print(f"    {line}")


if __name__ == "__main__":
    main()
