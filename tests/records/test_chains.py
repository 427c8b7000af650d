"""Heads followed through their rows, against the same rules read plainly, one row at a time."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

from headlife.records.chains import follow_heads, order_of

KINDS = ["planned swap", "material change", None]
SAID = {
    "went in again after row": "failed",
    "at the same time in another place": "two places",
    "starts anew": "used again",
    "does not run backwards": "backwards",
    "does not go on from": "broken",
    "more than 24 a day": "too fast",
}


def table_of(rows):
    """Typed rows as `follow_heads` takes them; the index is another one than the row number."""
    table = pd.DataFrame(
        rows, columns=["head", "in", "hours_in", "out", "hours_out", "mode", "suspension"]
    )
    origin = np.datetime64("2025-01-01", "D")
    table["date_in"] = origin + table.pop("in").to_numpy().astype("timedelta64[D]")
    table["date_out"] = origin + table.pop("out").to_numpy().astype("timedelta64[D]")
    table["suspension"] = (
        table["suspension"].astype(object).where(table["suspension"].notna(), None)
    )
    table["row"] = np.arange(len(table)) + 2
    table.index = np.arange(len(table)) * 10
    return table


def in_order(rows):
    """Places of a head's rows: by day in, hours in, day out, hours out, survivors first, row."""

    def key(place):
        _, day, hours, out, hours_out, mode, _ = rows[place]
        return day, hours, out, hours_out, mode is not None, place

    return sorted(range(len(rows)), key=key)


def plainly(rows, reusable):
    """What the rules say about the rows of one head, given with their numbers in the table."""
    said, broken = [], False
    last, (_, _, _, day, hours, failed, kind) = rows[0]
    for row, (_, day_in, hours_in, day_out, hours_out, mode, out) in rows[1:]:
        back, earlier = hours - hours_in, day_in < day
        gone = kind is not None and kind not in reusable
        if failed:
            wrong = "failed"
        elif back > 1 and (hours_out < hours or earlier):
            anew = "used again" if gone and hours_in <= 1 else "backwards"
            wrong = "two places" if hours_out >= hours else anew
        else:
            far = "too fast" if -back > 24 * (1 + max(day_in - day, 0)) else None
            wrong = "broken" if broken and abs(back) > 1 else far
        if wrong:
            said.append((row, wrong, last))
            broken = True
            continue
        said += [(row, "hours missing", last)] * (back < -1)
        said += [(row, "counter steps back", last)] * (back > 1)
        said += [(row, "dates overlap", last)] * earlier
        hours, day, last = max(hours, hours_out), max(day, day_out), row
        failed, kind = mode, out
    return said


def some_head(rng, name):
    """Rows that follow one another well, or by a little too much or too little, or anyhow."""
    day, hours, rows = int(rng.integers(10)), float(rng.choice([0.0, 0.5, 30.0])), []
    for _ in range(int(rng.integers(1, 5))):
        ran = float(rng.choice([0.5, 1.0, 2.0, 30.0]))
        stay = int(rng.integers(0, 4))
        mode = "wear" if rng.random() < 0.08 else None
        kind = None if mode else KINDS[int(rng.integers(3))]
        rows.append((name, day, hours, day + stay, hours + ran, mode, kind))
        day += stay + int(rng.choice([-stay - 1, -stay, -1, 0, 0, 0, 1, 2]))
        step = rng.choice(
            [-31.0, -2.5, -1.5, -1.0, 0.0, 0.0, 0.0, 1.0, 1.5, 24.0, 24.5, 48.0, 72.5]
        )
        hours = max(hours + ran + float(step), 0.0)
    return rows


@pytest.mark.parametrize("seed", range(4))
def test_what_is_said_about_heads_is_what_the_rules_say(shop, seed):
    rng = np.random.default_rng(seed)
    rows = [row for k in range(1_500) for row in some_head(rng, f"H{k}")]
    rows = [rows[k] for k in rng.permutation(len(rows))]
    conflicts, doubts = follow_heads(table_of(rows), shop)
    found = []
    for one in conflicts:
        (kind,) = {kind for words, kind in SAID.items() if words in one.sentence}
        assert one.column == ("head" if kind == "failed" else "hours_in")
        number = re.search(r"row (\d+)", one.sentence)
        found.append((one.place // 10 + 2, kind, int(number[1])))
    for one in doubts:
        before, row = one.rows.split(", ")
        assert one.head == rows[int(row) - 2][0]
        found.append((int(row), one.check, int(before)))
    by_head: dict[str, list] = {}
    for k, row in enumerate(rows):
        by_head.setdefault(row[0], []).append((k + 2, row))
    wanted = []
    for own in by_head.values():
        order = in_order([row for _, row in own])
        wanted += plainly([own[k] for k in order], shop.reasons.reusable)
    assert sorted(found) == sorted(wanted)
    # Each rule was met more than once.
    kinds = [kind for _, kind, _ in found]
    for kind in [*SAID.values(), "hours missing", "counter steps back", "dates overlap"]:
        assert kinds.count(kind) > 5, kind


def test_rows_of_a_head_stand_in_the_order_of_day_hours_and_end():
    rng = np.random.default_rng(9)
    rows = [
        ("AB"[int(rng.integers(2))], *rng.integers(0, 3, 4).tolist(), mode, None)
        for mode in rng.choice(np.array(["wear", None]), 60)
    ]
    table = table_of(rows)
    codes, names = pd.factorize(table["head"])
    wanted = []
    for name in names:
        places = [k for k, row in enumerate(rows) if row[0] == name]
        wanted += [places[k] for k in in_order([rows[k] for k in places])]
    assert order_of(table, codes).tolist() == wanted


def test_heads_that_follow_well_leave_nothing_to_say(shop):
    rows = [("A", 0, 0.0, 5, 90.0, None, None), ("A", 5, 91.0, 9, 120.0, None, None)]
    assert follow_heads(table_of(rows), shop) == ([], [])
    assert follow_heads(table_of(rows).iloc[:0], shop) == ([], [])


def test_sentences_name_hours_and_days(shop):
    # Worked by hand: 130.5 - 100.5 = 30.0 h in one day; 60 - 50 h and 3 days back.
    fast = [("A", 0, 0.0, 5, 100.5, None, None), ("A", 5, 130.5, 9, 150.0, None, None)]
    (conflict,), _ = follow_heads(table_of(fast), shop)
    assert conflict.sentence.startswith("lies 30.0 h above row 2 of head 'A'")
    back = [("A", 0, 0.0, 5, 60.0, None, None), ("A", 5, 50.0, 9, 95.0, None, None)]
    _, (doubt,) = follow_heads(table_of(back), shop)
    assert "60.0 h (row 2)" in doubt.sentence
    assert "at 50.0 h (row 3), 10.0 h less" in doubt.sentence
    gap = [("A", 0, 0.0, 5, 60.0, None, None), ("A", 2, 72.5, 9, 95.0, None, None)]
    _, (missing, overlap) = follow_heads(table_of(gap), shop)
    assert "The 12.5 h count as run" in missing.sentence
    assert "went in (row 3) 3 days before it came out (row 2)" in overlap.sentence
