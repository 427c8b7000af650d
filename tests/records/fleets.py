"""An invented fleet with known truth: printers that print, heads that go in and come out.

Everything a log could write down is known: the day of every event, the head's own counter and
the printer's meter at that moment. Seeded; what a shop writes of it is `messy_logs`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

FIRST_DAY = date(2023, 1, 9)
RATED = {"Standard": 900.0, "Fibre": 600.0}
REASONS = {"worn out": "wear", "crashed": "damage"}
PLANNED = {"swap at rating": "planned swap", "new material": "material change"}
POSITIONS = {"left": "model", "right": "support"}


@dataclass(frozen=True)
class Stint:
    """One stay of a head in a printer; the last two are as of the last day while it is in."""

    head: str
    head_type: str
    printer: str
    position: str
    site: str
    day_in: date
    hours_in: float
    meter_in: float
    day_out: date
    hours_out: float
    meter_out: float
    reason: str | None
    refurbished: bool = False
    order: tuple[int, int] = (0, 0)

    @property
    def role(self) -> str:
        return POSITIONS[self.position]


@dataclass(frozen=True)
class Life:
    """The truth about one life."""

    head: str
    hours: float
    mode: str | None
    in_service: bool


@dataclass
class Fleet:
    stints: list[Stint]
    last_day: date
    meters: dict[str, np.ndarray]
    """Printer -> what its meter reads at the end of each day since the first."""
    replaced: dict[str, tuple[date, float]] = field(default_factory=dict)
    """Printer -> day on which its meter was replaced, and what the old one read."""

    def lives(self) -> dict[str, Life]:
        """Give the true lives, by the name that `headlife` gives each of them."""
        lives: dict[str, Life] = {}
        count: dict[str, int] = {}
        start: dict[str, float] = {}
        for stint in sorted(self.stints, key=lambda one: (one.day_in, one.order)):
            if stint.refurbished and stint.head in count:
                count[stint.head] += 1
                start[stint.head] = stint.hours_in
            number = count.setdefault(stint.head, 1)
            name = stint.head if number == 1 else f"{stint.head} (life {number})"
            hours = stint.hours_out - start.get(stint.head, 0.0)
            mode = REASONS.get(stint.reason or "")
            lives[name] = Life(name, hours, mode, stint.reason is None)
        return lives

    def meter_on(self, printer: str, day: date) -> float:
        """Give what the meter reads at the end of a day."""
        return float(self.meters[printer][(day - FIRST_DAY).days])


def fleet(
    seed: int,
    printers: int = 3,
    weeks: int = 60,
    moves: bool = True,
    refurbish: bool = False,
    meter_starts: float | None = None,
) -> Fleet:
    """Let a fleet print for some weeks.

    A day has up to 20 print hours; every event happens at a moment of its day, so that what is
    printed before it counts for the head that comes out.
    """
    rng = np.random.default_rng(seed)
    days = weeks * 7
    names = ["Otter", "Lynx", "Heron", "Badger"][:printers]
    daily = {name: _daily(rng, days) for name in names}
    first = {
        name: round(float(rng.uniform(800, 5000)), 1) if meter_starts is None else meter_starts
        for name in names
    }
    run = _Run(rng, dict(first), moves, refurbish)
    for day in range(days):
        for name in names:
            run.day(name, day, daily[name][day])
    stints = run.close(days - 1)
    meters = {name: np.round(first[name] + np.cumsum(daily[name]), 1) for name in names}
    return Fleet(stints, FIRST_DAY + timedelta(days=days - 1), meters)


def _daily(rng: np.random.Generator, days: int) -> np.ndarray:
    busy = rng.uniform(4, 10)
    hours = np.minimum(rng.gamma(2.0, busy / 2, days), 20.0)
    hours[np.arange(days) % 7 >= 5] *= 0.4
    return np.round(hours, 1)


@dataclass
class _Head:
    serial: str
    head_type: str
    hours: float
    life: float
    ends_as: str
    refurbished: bool = False
    position: str = ""
    """Where it was first loaded; a head is committed to that role."""


@dataclass
class _Run:
    """The fleet while it prints."""

    rng: np.random.Generator
    meter: dict[str, float]
    moves: bool
    refurbish: bool
    stints: list[Stint] = field(default_factory=list)
    inside: dict[tuple[str, str], tuple[_Head, Stint]] = field(default_factory=dict)
    shelf: list[_Head] = field(default_factory=list)
    made: int = 0
    events: int = 0

    def day(self, printer: str, day: int, hours: float) -> None:
        for position in POSITIONS:
            if (printer, position) not in self.inside:
                self._put(printer, position, day, self._new())
        # At most one event a day in a printer, after some of the day's hours.
        share = self._due(printer, hours)
        if share is None:
            self._print(printer, hours)
            return
        position, part = share
        self._print(printer, part)
        self._swap(printer, position, day)
        self._print(printer, round(hours - part, 1))

    def _due(self, printer: str, hours: float) -> tuple[str, float] | None:
        for position in POSITIONS:
            head, _ = self.inside[printer, position]
            if head.hours + hours >= head.life:
                return position, round(max(min(head.life - head.hours, hours), 0.0), 1)
            if self.moves and self.rng.random() < 0.006:
                head.ends_as = "new material"
                head.life = head.hours + hours
                return position, hours
        return None

    def _print(self, printer: str, hours: float) -> None:
        self.meter[printer] = round(self.meter[printer] + hours, 1)
        for position in POSITIONS:
            head, _ = self.inside[printer, position]
            head.hours = round(head.hours + hours, 1)

    def _swap(self, printer: str, position: str, day: int) -> None:
        head, stint = self.inside.pop((printer, position))
        self.stints.append(
            replace(
                stint,
                day_out=FIRST_DAY + timedelta(days=day),
                hours_out=head.hours,
                meter_out=self.meter[printer],
                reason=head.ends_as,
                order=(stint.order[0], self._count()),
            )
        )
        if head.ends_as == "new material":
            self.shelf.append(self._again(head))
        elif self.refurbish and head.ends_as == "worn out" and self.rng.random() < 0.5:
            again = self._again(head)
            again.refurbished, again.life = True, again.hours + self.rng.uniform(150, 500)
            self.shelf.append(again)
        fitting = [
            one for one in self.shelf if one.serial != head.serial and one.position == position
        ]
        if fitting and self.rng.random() < 0.6:
            following = fitting[0]
            self.shelf.remove(following)
        else:
            following = self._new()
        self._put(printer, position, day, following)

    def _again(self, head: _Head) -> _Head:
        again = self._new(head.serial, head.head_type)
        again.hours, again.life = head.hours, head.hours + again.life
        again.position = head.position
        return again

    def _new(self, serial: str | None = None, head_type: str | None = None) -> _Head:
        if serial is None:
            self.made += 1
            head_type = "Fibre" if self.rng.random() < 0.25 else "Standard"
            serial = f"{'F' if head_type == 'Fibre' else 'S'}{100 + self.made}"
        life, ends_as = float(self.rng.weibull(2.0) * 500 + 20), "worn out"
        if self.rng.random() < 0.15:
            life, ends_as = life * 0.4 + 5, "crashed"
        elif life > 0.7 * RATED[head_type or "Standard"]:
            life, ends_as = 0.7 * RATED[head_type or "Standard"], "swap at rating"
        return _Head(serial, head_type or "Standard", 0.0, round(life, 1), ends_as)

    def _put(self, printer: str, position: str, day: int, head: _Head) -> None:
        stint = Stint(
            head.serial,
            head.head_type,
            printer,
            position,
            "Mill Yard" if printer in ("Otter", "Lynx") else "Harbour Hall",
            FIRST_DAY + timedelta(days=day),
            head.hours,
            self.meter[printer],
            FIRST_DAY + timedelta(days=day),
            head.hours,
            self.meter[printer],
            None,
            head.refurbished,
            (self._count(), 0),
        )
        self.inside[printer, position] = head, stint
        head.position = position
        head.refurbished = False

    def _count(self) -> int:
        self.events += 1
        return self.events

    def close(self, day: int) -> list[Stint]:
        for (printer, _), (head, stint) in self.inside.items():
            self.stints.append(
                replace(
                    stint,
                    day_out=FIRST_DAY + timedelta(days=day),
                    hours_out=head.hours,
                    meter_out=self.meter[printer],
                    order=(stint.order[0], self._count()),
                )
            )
        return sorted(self.stints, key=lambda one: one.order)


def with_a_new_meter(made: Fleet, printer: str, day: date) -> Fleet:
    """Replace a printer's meter on the evening of a day: the new one starts at 0."""
    last = made.meter_on(printer, day)
    shown = made.meters[printer].copy()
    shown[(day - FIRST_DAY).days + 1 :] -= last

    def reading(stint: Stint, which: str) -> float:
        on, value = getattr(stint, f"day_{which}"), getattr(stint, f"meter_{which}")
        return round(value - last, 1) if stint.printer == printer and on > day else value

    stints = [
        replace(one, meter_in=reading(one, "in"), meter_out=reading(one, "out"))
        for one in made.stints
    ]
    meters = made.meters | {printer: np.round(shown, 1)}
    return replace_fleet(made, stints, meters, {printer: (day, last)})


def replace_fleet(
    made: Fleet,
    stints: list[Stint],
    meters: dict[str, np.ndarray],
    replaced: dict[str, tuple[date, float]],
) -> Fleet:
    return Fleet(stints, made.last_day, meters, replaced)
