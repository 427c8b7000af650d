"""Write the demo shop's records: an invented museum exhibit workshop with known truth.

The workshop prints parts of exhibits on eleven two-head printers at two sites. Every head's life
is drawn from the constants below, so what the records should say is known; `README.md` in this
folder states it. Run `python data_demo/generate.py` to write the same files again, byte by byte.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

SEED = 27
FIRST_DAY = date(2023, 10, 2)
LAST_DAY = date(2026, 9, 30)

RATED_HOURS = {"Standard": 1200.0, "Fibre": 800.0}
# The truth: Weibull shape [-] and scale [h] of wear by (head type, role).
WEAR = {
    ("Standard", "model"): (2.5, 3300.0),
    ("Standard", "support"): (3.2, 4200.0),
    ("Fibre", "model"): (2.4, 960.0),
}
# Handling damage has no memory: mean print hours between two cases [h].
DAMAGE_MEAN_HOURS = 14_000.0
# A head due for its planned swap runs on until the swap suits, a support head longer, since parts
# forgive it: mean extra hours [h].
SWAP_SLACK_HOURS = {"model": 40.0, "support": 150.0}

# name -> (site, print hours a week, weeks between changes of model material, first day)
PRINTERS = {
    "Otter": ("Mill Yard", 24.0, 10.0, date(2023, 10, 2)),
    "Heron": ("Mill Yard", 18.0, 10.0, date(2023, 10, 2)),
    "Marten": ("Mill Yard", 21.0, 14.0, date(2023, 10, 9)),
    "Plover": ("Mill Yard", 13.0, 9.0, date(2023, 10, 9)),
    "Stoat": ("Mill Yard", 16.0, 12.0, date(2023, 10, 16)),
    "Wren": ("Mill Yard", 10.0, 11.0, date(2023, 11, 6)),
    "Badger": ("Harbour Hall", 22.0, 12.0, date(2023, 10, 2)),
    "Curlew": ("Harbour Hall", 18.0, 10.0, date(2023, 10, 2)),
    "Dunlin": ("Harbour Hall", 14.0, 11.0, date(2023, 10, 23)),
    "Vole": ("Harbour Hall", 20.0, 13.0, date(2024, 9, 2)),
    "Pike": ("Harbour Hall", 13.0, 11.0, date(2025, 3, 3)),
}
# Bought used: hours already on the model and on the support head [h].
USED_PRINTERS = {"Vole": (412.5, 655.0), "Pike": (538.0, 291.5)}
SUPPORT_CHANGE_WEEKS = 30.0
MATERIALS = {
    "model": (("fibre grey", 0.5), ("chalk white", 0.3), ("slate", 0.2)),
    "support": (("soluble", 0.7), ("breakaway", 0.3)),
}
POSITIONS = {"model": "left", "support": "right"}
WORN = (("worn out", 0.6), ("clogged for good", 0.4))
DAMAGED = (("knocked against part", 0.65), ("dropped", 0.35))
NOTES = {
    "worn out": "under-extrudes, wall thin",
    "clogged for good": "hot pull did not clear it",
    "knocked against part": "lifted corner of the part",
    "dropped": "dropped on the bench",
}

# What the workshop's log sheet says, written here and not taken from the package: a shop does not
# rename its columns when the reader does. tests/test_demo.py tells when the two part.
COLUMNS = (
    "head",
    "head_type",
    "role",
    "printer",
    "position",
    "date_in",
    "hours_in",
    "date_out",
    "hours_out",
    "reason",
    "material",
    "last_good_hours",
    "site",
    "note",
)


@dataclass
class Head:
    """One head: hours so far and the hours at which it would wear out or be damaged, in 0.1 h."""

    serial: str
    head_type: str
    role: str
    material: str
    age: int
    worn_at: int
    damaged_at: int
    swap_at: int


@dataclass
class Position:
    """One position of a printer and the installation in it."""

    role: str
    head: Head
    date_in: date
    age_in: int
    change_on: date


@dataclass
class Shop:
    """The workshop as it runs: printers, shelves, the log."""

    rng: np.random.Generator
    heads: int = 0
    shelf: dict[tuple[str, str], list[Head]] = field(default_factory=dict)
    rows: list[dict[str, str]] = field(default_factory=list)

    def pick(self, choices: tuple[tuple[str, float], ...], but: str = "") -> str:
        """Choose one name by weight, never the one given."""
        names = [name for name, _ in choices if name != but]
        weights = np.array([weight for name, weight in choices if name != but])
        return names[int(self.rng.choice(len(names), p=weights / weights.sum()))]

    def new_head(self, role: str, material: str, age: int = 0) -> Head:
        """Take a head from the stock room; its life is drawn here, given its hours so far."""
        head_type = "Fibre" if material == "fibre grey" else "Standard"
        shape, scale = WEAR[head_type, role]
        # Weibull life beyond `age`: the cumulative hazard at the failure exceeds that at `age`
        # by a standard exponential.
        hazard = (age / 10 / scale) ** shape + self.rng.exponential()
        worn_at = int(round(scale * hazard ** (1 / shape) * 10))
        damaged_at = age + int(round(self.rng.exponential(DAMAGE_MEAN_HOURS) * 10))
        swap_at = int(
            round((RATED_HOURS[head_type] + self.rng.exponential(SWAP_SLACK_HOURS[role])) * 10)
        )
        self.heads += 1
        serial = f"{head_type[0]}{self.heads:03d}"
        return Head(serial, head_type, role, material, age, worn_at, damaged_at, swap_at)

    def fetch(self, site: str, role: str, material: str) -> Head:
        """Fetch the part-used head of that material from the site's shelf, or a new one."""
        waiting = self.shelf.get((site, f"{role} {material}"), [])
        return waiting.pop(0) if waiting else self.new_head(role, material)

    def next_change(self, today: date, weeks: float) -> date:
        """Draw the day of the next change of material."""
        return today + timedelta(days=3 + int(round(self.rng.gamma(3.0, weeks * 7 / 3.0))))

    def log(self, printer: str, site: str, at: Position, day: date, reason: str) -> None:
        """Write one installation into the log."""
        head = at.head
        # Every other worn head had been checked on the printer some hours before.
        checked = reason in dict(WORN) and self.rng.random() < 0.4
        good = max(at.age_in, head.age - int(self.rng.integers(30, 400))) if checked else None
        noted = reason in NOTES and self.rng.random() < 0.7
        self.rows.append(
            {
                "head": head.serial,
                "head_type": head.head_type,
                "role": head.role,
                "printer": printer,
                "position": POSITIONS[head.role],
                "date_in": at.date_in.isoformat(),
                "hours_in": f"{at.age_in / 10:.1f}",
                "date_out": day.isoformat(),
                "hours_out": f"{head.age / 10:.1f}",
                "reason": reason,
                "material": head.material,
                "last_good_hours": "" if good is None else f"{good / 10:.1f}",
                "site": site,
                "note": NOTES[reason] if noted else "",
            }
        )


def run_shop(seed: int = SEED) -> list[dict[str, str]]:
    """Run the workshop from its first day to its last; return the rows of its log."""
    shop = Shop(np.random.default_rng(seed))
    positions: dict[str, list[Position]] = {}
    day = FIRST_DAY
    while day <= LAST_DAY:
        for printer, (site, weekly, change_weeks, first) in PRINTERS.items():
            if day == first:
                positions[printer] = _set_up(shop, printer, day, change_weeks)
            elif day > first:
                _print_for_a_day(shop, positions[printer], day, weekly)
                for at in positions[printer]:
                    _attend(shop, printer, site, at, day, change_weeks)
        day += timedelta(days=1)
    for printer, (site, *_) in PRINTERS.items():
        for at in positions[printer]:
            shop.log(printer, site, at, LAST_DAY, "")
    return sorted(shop.rows, key=lambda row: (row["date_in"], row["printer"], row["position"]))


def _set_up(shop: Shop, printer: str, day: date, change_weeks: float) -> list[Position]:
    hours = USED_PRINTERS.get(printer, (0.0, 0.0))
    materials = ("chalk white", "soluble") if printer in USED_PRINTERS else None
    made = []
    for i, role in enumerate(("model", "support")):
        material = materials[i] if materials else shop.pick(MATERIALS[role])
        head = shop.new_head(role, material, int(hours[i] * 10))
        weeks = change_weeks if role == "model" else SUPPORT_CHANGE_WEEKS
        made.append(Position(role, head, day, head.age, shop.next_change(day, weeks)))
    return made


def _print_for_a_day(shop: Shop, pair: list[Position], day: date, weekly: float) -> None:
    """Let both heads of a printer run; a failure of either stops the printer for the day."""
    if day.weekday() == 6:
        return
    hours = min(shop.rng.gamma(1.3, weekly / 6 / 1.3), 22.0)
    left = min(min(at.head.worn_at, at.head.damaged_at) - at.head.age for at in pair)
    run = min(int(round(hours * 10)), max(left, 0))
    for at in pair:
        at.head.age += run


def _attend(
    shop: Shop, printer: str, site: str, at: Position, day: date, change_weeks: float
) -> None:
    """At the end of a day: take out what failed, is due, or must make room for a material."""
    head = at.head
    material = head.material
    if head.age >= head.worn_at:
        reason = shop.pick(WORN)
    elif head.age >= head.damaged_at:
        reason = shop.pick(DAMAGED)
    elif day.weekday() >= 5:
        return
    elif head.age >= head.swap_at:
        reason = "swap at rating"
    elif day >= at.change_on and day < LAST_DAY:
        reason = "material change"
        material = shop.pick(MATERIALS[at.role], but=material)
        weeks = change_weeks if at.role == "model" else SUPPORT_CHANGE_WEEKS
        at.change_on = shop.next_change(day, weeks)
    else:
        return
    shop.log(printer, site, at, day, reason)
    following = shop.fetch(site, at.role, material)
    if reason == "material change":
        shop.shelf.setdefault((site, f"{head.role} {head.material}"), []).append(head)
    at.head, at.date_in, at.age_in = following, day, following.age


def removals_csv(seed: int = SEED) -> str:
    """Return the removal records as CSV text."""
    return _csv(list(COLUMNS), [[row[name] for name in COLUMNS] for row in run_shop(seed)])


def lifetimes_csv(seed: int = SEED) -> str:
    """Return the wear lives of the standard model heads as a plain table of lifetimes."""
    first: dict[str, float] = {}
    last: dict[str, dict[str, str]] = {}
    for row in run_shop(seed):
        first.setdefault(row["head"], float(row["hours_in"]))
        last[row["head"]] = row
    lines = [
        [
            row["hours_out"],
            str(int(row["reason"] in dict(WORN))),
            f"{first[serial]:.1f}",
            f"{row['head_type']} {row['role']}",
        ]
        for serial, row in last.items()
        if float(row["hours_out"]) > first[serial]
    ]
    return _csv(["hours", "failed", "entry_hours", "group"], lines)


def _csv(header: list[str], lines: list[list[str]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(lines)
    return text.getvalue()


def main(folder: Path = Path(__file__).parent) -> None:
    """Write the files of the demo shop."""
    (folder / "removals.csv").write_bytes(removals_csv().encode())
    (folder / "lifetimes.csv").write_bytes(lifetimes_csv().encode())


if __name__ == "__main__":
    main()
