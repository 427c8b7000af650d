"""An invented fleet of any size, written as Parquet or CSV: for tests and benchmarks at scale.

Printers with one model and one support position each print at steady hours for some years. Every
head lives a Weibull life, comes out for a change of material about every 150 hours and goes in
again, until it wears out or reaches its rating. Files hold a stretch of the calendar each, as a
shop's exports do, so most heads have rows in several of them. Nobody's real records.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

SHAPE, SCALE, RATED = 2.2, 1900.0, 1200.0
SETTINGS = """
name = "Invented bureau"
[reasons.failures]
"worn out" = "wear"
"knocked" = "damage"
[reasons.suspensions]
"swap at rating" = "planned swap"
"material change" = "material change"
[head_types.Standard]
rated_hours = 1200
on_hand = 10
[spares]
lead_time_weeks = 6
review_weeks = 13
[review]
draws = 20000
"""
_BETWEEN_CHANGES = 150.0  # hours
_KNOCKED = 0.1  # share of failures that are knocks
_FIRST_DAY = np.datetime64("2016-01-04")


def large_fleet(rows: int, years: float = 10.0, seed: int = 1) -> pd.DataFrame:
    """Make about so many installations; the last of each position is still in service."""
    rng = np.random.default_rng(seed)
    weeks = years * 52.0
    printers = max(2, round(rows / (2 * weeks * 42.0 / (0.82 * _BETWEEN_CHANGES))))
    weekly = np.repeat(rng.uniform(24.0, 60.0, printers), 2)
    most = int(np.ceil(weeks * 60.0 / 500.0)) + 40
    drawn = SCALE * rng.weibull(SHAPE, (2 * printers, most))
    failed = drawn < RATED
    lives = np.asarray(np.round(np.maximum(np.minimum(drawn, RATED), 1.0), 1), float)
    until = np.cumsum(lives, axis=1)
    end = np.round(weekly * weeks, 1)[:, None]
    before = until - lives
    used = before < end - 1.0
    place, _ = np.nonzero(used)
    life, start, fails = lives[used], before[used], failed[used]
    still = (until > end)[used]
    life = np.where(still, np.round(end[place, 0] - start, 1), life)
    return _stints(rng, place, weekly[place], life, start, fails & ~still, still)


def _stints(
    rng: np.random.Generator,
    place: np.ndarray,
    weekly: np.ndarray,
    life: np.ndarray,
    start: np.ndarray,
    fails: np.ndarray,
    still: np.ndarray,
) -> pd.DataFrame:
    head = np.arange(len(place))
    pieces = np.maximum(np.ceil(life / _BETWEEN_CHANGES).astype(int), 1)
    of = np.repeat(head, pieces)
    number = np.arange(len(of)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    hours_in = np.round(life[of] * number / pieces[of], 1)
    hours_out = np.round(life[of] * (number + 1) / pieces[of], 1)
    last = number == pieces[of] - 1
    reason = np.full(len(of), "material change", dtype=object)
    knocked = rng.random(len(place)) < _KNOCKED
    reason[last] = np.where(fails, np.where(knocked, "knocked", "worn out"), "swap at rating")
    reason[last & still[of]] = None
    per_day = weekly[of] / 7.0
    day_in = np.floor((start[of] + hours_in) / per_day).astype("timedelta64[D]")
    day_out = np.floor((start[of] + hours_out) / per_day).astype("timedelta64[D]")
    printer = place[of] // 2
    table = pd.DataFrame(
        {
            "head": _names("H", of),
            "head_type": _coded(np.zeros(len(of), int), "Standard"),
            "role": _coded(place[of] % 2, "model", "support"),
            "printer": _names("P", printer),
            "position": _coded(place[of] % 2, "left", "right"),
            "date_in": (_FIRST_DAY + day_in).astype("datetime64[us]"),
            "hours_in": hours_in,
            "date_out": (_FIRST_DAY + day_out).astype("datetime64[us]"),
            "hours_out": hours_out,
            "reason": pd.Categorical(reason),
        }
    )
    return table.sort_values(["date_out", "head"], kind="stable", ignore_index=True)


def _coded(codes: np.ndarray, *names: str) -> pd.Categorical[str]:
    return pd.Categorical.from_codes(codes.tolist(), pd.Index(names))


def _names(letter: str, numbers: np.ndarray) -> np.ndarray:
    known, codes = np.unique(numbers, return_inverse=True)
    return np.array([f"{letter}{n:07d}" for n in known.tolist()], dtype=object)[codes]


def write_fleet(folder: Path, table: pd.DataFrame, files: int, kind: str = "parquet") -> list[Path]:
    """Write a table to so many files, each a stretch of the calendar."""
    bounds = np.linspace(0, len(table), files + 1).astype(int)
    paths = []
    for place in range(files):
        part = table.iloc[bounds[place] : bounds[place + 1]]
        path = folder / f"part_{place:04d}.{kind}"
        if kind == "parquet":
            part.to_parquet(path, index=False)
        else:
            part.to_csv(path, index=False)
        paths.append(path)
    return paths
