"""A small shop and its records, and how to write them as CSV."""

from __future__ import annotations

import csv
import io

SETTINGS = """
name = "Small shop"
[reasons.failures]
"worn out" = "wear"
"crash" = "damage"
[reasons.suspensions]
"swap" = "planned swap"
"material change" = "material change"
[reasons.looked_bad]
"looked bad" = "wear"
[head_types.A]
rated_hours = 1200
[head_types.B]
rated_hours = 800
[spares]
lead_time_weeks = 6
"""

COLUMNS = [
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
]

# One head swapped between two printers, one worn out, one in service, one bought used.
ROWS = [
    "H1 A model P1 left 2025-01-01 0 2025-02-01 100.5 material_change white - S1 -",
    "H1 A model P2 left 2025-03-01 100.5 2025-05-01 300 worn_out white 280 S1 -",
    "H2 A support P1 right 2025-01-01 0 2025-06-30 400 - soluble - S1 -",
    "H3 B model P1 left 2025-02-01 250 2025-04-01 500 swap fibre - S1 -",
    "H4 A model P1 left 2025-04-01 0 2025-06-30 210.5 - white - S1 -",
]


def rows_of(lines=ROWS) -> list[dict[str, str]]:
    cells = [[c.replace("_", " ") if c != "-" else "" for c in line.split()] for line in lines]
    return [dict(zip(COLUMNS, row, strict=True)) for row in cells]


def as_csv(rows, columns=COLUMNS, **dialect) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n", **dialect)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
