"""Tables with faults of every kind, for hypothesis: a sound history, then what people do to it."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st
from tests.records.small_shop import COLUMNS

START = date(2024, 1, 1)
REASONS = ["worn out", "crash", "swap", "material change", "looked bad", ""]


@st.composite
def histories(draw, max_heads=4, max_stints=4):
    """A sound log: heads with contiguous stints, each in positions of their own."""
    rows = []
    for head in range(draw(st.integers(1, max_heads))):
        day = START + timedelta(days=draw(st.integers(0, 60)))
        tenths = draw(st.sampled_from([0, 0, 0, 2505]))
        head_type = draw(st.sampled_from("AB"))
        role = draw(st.sampled_from(["model", "support"]))
        stints = draw(st.integers(1, max_stints))
        for stint in range(stints):
            days = draw(st.integers(0, 90))
            more = draw(st.integers(0, 240 * (days + 1) // 2)) + (tenths == 0)
            last = stint == stints - 1
            reason = draw(st.sampled_from(REASONS)) if last else "material change"
            end = day + timedelta(days=days)
            rows.append(
                {
                    "head": f"H{head}",
                    "head_type": head_type,
                    "role": role,
                    "printer": f"P{head}",
                    "position": f"slot {stint}",
                    "date_in": day.isoformat(),
                    "hours_in": f"{tenths / 10:.1f}",
                    "date_out": end.isoformat(),
                    "hours_out": f"{(tenths + more) / 10:.1f}",
                    "reason": reason,
                    "material": draw(st.sampled_from(["white", ""])),
                    "last_good_hours": "",
                    "site": "S",
                    "note": draw(st.sampled_from(["", "ok", "=1+1", "<b>", 'a "quote", here'])),
                }
            )
            tenths += more
            day = end + timedelta(days=draw(st.integers(0, 20)))
    return rows


def _cell(column, *values):
    def spoil(rows, draw):
        row = draw(st.sampled_from(rows))
        row[column] = draw(st.sampled_from(values))

    return spoil


def _pair(change):
    def spoil(rows, draw):
        change(draw(st.sampled_from(rows)), draw(st.sampled_from(rows)), rows)

    return spoil


def _other_place(one, other, rows):
    other["printer"], other["position"] = one["printer"], one["position"]


def _same_serial(one, other, rows):
    other["head"] = one["head"]


def _again(one, other, rows):
    rows.append(dict(one))


def _backwards(one, other, rows):
    one["hours_in"], one["hours_out"] = one["hours_out"], one["hours_in"]


def _lost(one, other, rows):
    if len(rows) > 1:
        rows[:] = [row for row in rows if row is not one]


def _dates_swapped(one, other, rows):
    one["date_in"], one["date_out"] = one["date_out"], one["date_in"]


def _moved(one, other, rows):
    one["date_in"], one["date_out"] = other["date_in"], other["date_out"]


FAULTS = {
    "unreadable date": _cell("date_in", "soon", "2024-02-31", "31/12/2024", "03/04/24", "45000"),
    "blank date": _cell("date_out", "", " "),
    "strange hours": _cell("hours_out", "-3", "abc", "nan", "inf", "1e308", "1,5", "", "0x10"),
    "hours below": _cell("hours_out", "0", "0.1"),
    "hours above": _cell("hours_out", "99999", "1000000"),
    "hours in": _cell("hours_in", "7", "0", "100000", "-0", "\u0663"),
    "blank name": _cell("head", "", "\xa0"),
    "hidden sign": _cell("head", "H\u202e0", "H\x000", "H\u200b0", "H" * 300),
    "script": _cell("head", "<script>alert(1)</script>", "=cmd|' /C calc'!A0", "@SUM(A1)"),
    "other serial": _cell("head", "h0", "H-0", "H 0"),
    "role": _cell("role", "both", "SUPPORT", "model", ""),
    "type": _cell("head_type", "A", "B", "C", ""),
    "reason": _cell("reason", "worn out", "", "nonsense", " SWAP ", "looked bad", "crash"),
    "printer": _cell("printer", "", "P0", "p0", "#REF!"),
    "position": _cell("position", "", "slot 0"),
    "last good": _cell("last_good_hours", "0", "50", "99999", "x"),
    "far date": _cell("date_out", "2199-01-01", "1200-01-01", "9999-12-31", "2024-01-01"),
    "long note": _cell("note", "x" * 10_000, "a\nb", "\u202egnp.exe"),
    "same place": _pair(_other_place),
    "same serial": _pair(_same_serial),
    "written twice": _pair(_again),
    "counter backwards": _pair(_backwards),
    "row missing": _pair(_lost),
    "dates swapped": _pair(_dates_swapped),
    "dates moved": _pair(_moved),
}


@st.composite
def spoilt(draw, faults=tuple(FAULTS), at_most=1):
    """A sound log with faults planted in it, its rows in any order."""
    rows = draw(histories())
    for name in draw(st.lists(st.sampled_from(faults), min_size=1, max_size=at_most)):
        FAULTS[name](rows, draw)
    return draw(st.permutations(rows))


def garbage():
    """Rows of arbitrary text under the right names."""
    plain = st.sampled_from(["H1", "A", "model", "2024-01-01", "2024-03-01", "0", "10", "swap", ""])
    cell = st.one_of(plain, st.text(max_size=8))
    row = st.fixed_dictionaries(dict.fromkeys(COLUMNS, cell))
    return st.lists(row, min_size=1, max_size=6)
