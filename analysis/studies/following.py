"""Does a shop that orders what it is told, quarter after quarter, run out of heads?

A simulated shop, day by day: printers with two heads, print hours that vary, Weibull lives. It
keeps its log; for two years it orders what it used up, from then on what the review of that log
says, with what is then on the shelf and on order. So it is the whole way from the log to the order
that is asked, and each order changes what comes to be on record. What counts are the times from
the arrival of one order to that of the next: in how many of them no printer waited.
`python -m studies.following [SHOPS [SEED]]` prints every kind.
"""

from __future__ import annotations

import csv
import datetime
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np

import headlife as hl
from headlife.quarters import quarter_of

FIRST: Final = datetime.date(2021, 1, 1)
LISTENS: Final = datetime.date(2022, 12, 31)
LAST: Final = datetime.date(2025, 12, 31)
RATED: Final = 1200.0
_SETTINGS: Final = """
name = "A shop that does what it is told"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swapped" = "planned swap"
[head_types."A"]
rated_hours = {rated}
on_hand = {shelf}
{orders}
[spares]
lead_time_weeks = {lead}
review_weeks = 13
service_level = 0.95
order_multiple = {multiple}
[policy]
swap_at = "{swap_at}"
"""
_COLUMNS: Final = (
    *("head", "head_type", "role", "printer", "position"),
    *("date_in", "hours_in", "date_out", "hours_out", "reason"),
)


@dataclass(frozen=True)
class Kind:
    """Shops of one kind."""

    printers: int = 10
    """Printers, two positions each [-]."""
    daily_hours: float = 6.4
    """Print hours of a printer a day, on average [h]."""
    shape: float = 2.0
    """Shape of the true Weibull life [-]."""
    scale: float = 1500.0
    """Its scale [h]."""
    swap_at: str = "rating"
    """When heads that work are swapped: at the rating or never, "failure"."""
    lead_weeks: int = 6
    """From order to arrival [weeks]."""
    stock: int = 14
    """New heads on the shelf on the first day [heads]."""
    multiple: int = 1
    """Orders come in so many [heads]."""
    growth: float = 0.0
    """Growth of print hours in a year [-]."""
    season: float = 0.0
    """Swing of print hours within a year [-]."""


KINDS: Final = {
    "ten printers, heads swapped at the rating": Kind(),
    "heads run to failure": Kind(swap_at="failure"),
    "early failures": Kind(shape=0.9, swap_at="failure", stock=18),
    "three printers": Kind(printers=3, stock=6),
    "two printers that print little": Kind(printers=2, daily_hours=2.9, stock=4),
    "lead time of 16 weeks": Kind(lead_weeks=16, stock=25),
    "orders of five": Kind(multiple=5, stock=16),
    "30 % more hours every year": Kind(growth=0.3, stock=12),
    "hours that swing by 40 % within a year": Kind(season=0.4),
    "too few heads from the start, lead time of 16 weeks": Kind(stock=2, lead_weeks=16),
}


@dataclass
class Head:
    """A head in a position."""

    life: float
    row: int
    age: float = 0.0


@dataclass
class SimulatedShop:
    """A shop on a day, and the log it has kept."""

    kind: Kind
    rng: np.random.Generator
    day: datetime.date = FIRST
    shelf: int = 0
    bought: int = 0
    orders: list[tuple[datetime.date, int]] = field(default_factory=list)
    arrived: list[datetime.date] = field(default_factory=list)
    waited: list[datetime.date] = field(default_factory=list)
    rows: list[list[object]] = field(default_factory=list)
    heads: dict[tuple[int, int], Head | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.shelf = self.bought = self.kind.stock + 2 * self.kind.printers
        self.heads = {(at, side): None for at in range(self.kind.printers) for side in (0, 1)}
        self._fill()

    @property
    def used_up(self) -> int:
        """Heads that came out so far [heads]."""
        return sum(bool(row[-1]) for row in self.rows)

    def order(self, heads: int) -> None:
        """Order heads, which arrive one lead time later."""
        if heads:
            self.orders.append((self.day + datetime.timedelta(weeks=self.kind.lead_weeks), heads))
            self.bought += heads

    def next_day(self) -> None:
        """Take in what arrives, fill what is empty, print, and take out what is used up."""
        self.day += datetime.timedelta(days=1)
        for due, heads in [one for one in self.orders if one[0] <= self.day]:
            self.orders.remove((due, heads))
            self.arrived.append(due)
            self.shelf += heads
        self._fill()
        for printer in range(self.kind.printers):
            pair = [self.heads[printer, side] for side in (0, 1)]
            if None in pair:
                self.waited.append(self.day)
                continue
            hours = self._hours()
            for side, head in enumerate(pair):
                assert head is not None
                self._run(printer, side, head, hours)
        self._fill()

    def _hours(self) -> float:
        kind, years = self.kind, (self.day - FIRST).days / 365.25
        usual = kind.daily_hours * (1.0 + kind.growth) ** years
        usual *= 1.0 + kind.season * np.sin(2.0 * np.pi * years)
        return float(min(usual * self.rng.gamma(4.0, 0.25), 20.0))

    def _run(self, printer: int, side: int, head: Head, hours: float) -> None:
        head.age = min(head.age + hours, head.life)
        failed = head.age >= head.life
        if failed or (self.kind.swap_at == "rating" and head.age >= RATED):
            self.rows[head.row][-3:] = [self.day, head.age, "worn out" if failed else "swapped"]
            self.heads[printer, side] = None

    def _fill(self) -> None:
        for (printer, side), head in self.heads.items():
            if head is None and self.shelf:
                self.shelf -= 1
                life = self.kind.scale * self.rng.weibull(self.kind.shape)
                self.heads[printer, side] = Head(life, len(self.rows))
                where = (("model", f"P{printer}", "left"), ("support", f"P{printer}", "right"))
                name = f"H{len(self.rows)}"
                self.rows.append([name, "A", *where[side], self.day, 0.0, None, None, ""])

    def case(self, folder: Path) -> hl.Case:
        """Write log and settings as they are today, and read them."""
        rows = [list(row) for row in self.rows]
        for head in self.heads.values():
            if head is not None:
                rows[head.row][-3:] = [self.day, head.age, ""]
        with (folder / "log.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows([_COLUMNS, *rows])
        kind = self.kind
        orders = "\n".join(
            f'orders."{number}" = {{ heads = {heads}, due = {due} }}'
            for number, (due, heads) in enumerate(self.orders)
        )
        text = _SETTINGS.format(
            rated=RATED,
            shelf=self.shelf,
            orders=orders,
            lead=kind.lead_weeks,
            multiple=kind.multiple,
            swap_at=kind.swap_at,
        )
        (folder / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_case(folder / "log.csv", folder / "shop.toml", as_of=self.day)


@dataclass(frozen=True)
class Followed:
    """How a shop fared while it did what it was told."""

    served: list[bool]
    """For every time from one arrival to the next, whether no printer waited."""
    held: list[int]
    """Heads to hold, by each review [heads]."""


def follow(
    kind: Kind,
    rng: np.random.Generator,
    listens: datetime.date = LISTENS,
    last: datetime.date = LAST,
) -> tuple[SimulatedShop, Followed]:
    """Let a shop work, and order what each review says from a day on."""
    shop, before, held, asked = SimulatedShop(kind, rng), 0, [], []
    with tempfile.TemporaryDirectory() as folder:
        while shop.day < last:
            shop.next_day()
            if shop.day != quarter_of(shop.day).last:
                continue
            if shop.day < listens:
                shop.order(shop.used_up - before)
                before = shop.used_up
                continue
            (answer,) = hl.quarterly_review(shop.case(Path(folder))).stock
            held.append(answer.plan.stock_level)
            asked.append(shop.day + datetime.timedelta(weeks=kind.lead_weeks))
            shop.order(answer.plan.order_now)
    between = [(a, b) for a, b in zip(asked, asked[1:], strict=False) if b <= last]
    served = [not any(a <= day < b for day in shop.waited) for a, b in between]
    return shop, Followed(served, held)


def main(shops: int = 8, seed: int = 101) -> None:
    """Print how shops of every kind fare."""
    print(f"{shops} shops of a kind, seed {seed}; .95 asked")
    for name, kind in KINDS.items():
        streams = np.random.default_rng(seed).spawn(shops)
        found = [follow(kind, rng)[1] for rng in streams]
        served = [one for shop in found for one in shop.served]
        held = np.mean([level for shop in found for level in shop.held])
        print(f"{name}: {np.mean(served):.3f} of {len(served)}, held {held:.1f}", flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
