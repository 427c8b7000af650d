"""Rows that cannot be used, grouped: one line of settings or one slip explains many of them."""

from __future__ import annotations

from tests.records.small_shop import rows_of

from headlife.records.causes import causes


def grouped(records):
    return causes(records.set_aside, records.origins)


def test_one_word_in_many_rows_is_one_cause(read):
    rows = rows_of()
    for row in rows[:3]:
        row["role"] = "Bauteil"
    rows[3]["role"] = "Teil"
    found = grouped(read(rows))
    assert [(one.column, one.value, len(one.rows)) for one in found] == [
        ("role", "Bauteil", 3),
        ("role", "Teil", 1),
    ]
    assert found[0].sentence.startswith("role 'Bauteil', 3 rows (2, 3, 4): is not a role")
    assert "[roles]" in found[0].sentence


def test_one_kind_of_slip_with_other_values_is_one_cause(read):
    rows = rows_of()
    rows[0]["hours_out"], rows[2]["hours_out"] = "-3", "-4"
    rows[3]["date_in"], rows[4]["date_in"] = "soon", "later"
    found = grouped(read(rows))
    assert {(one.column, len(one.rows), one.one_value) for one in found} >= {
        ("hours_out", 2, False),
        ("date_in", 2, False),
    }
    assert "such as '-3'" in next(one for one in found if one.column == "hours_out").sentence


def test_every_row_has_one_cause_and_those_of_many_rows_come_first(read):
    rows = [dict(rows_of()[0], head=f"N{i}", date_in="soon") for i in range(25)]
    rows += [dict(rows_of()[2], hours_out="x")]
    records = read(rows_of() + rows)
    found = grouped(records)
    assert sorted(row for one in found for row in one.rows) == sorted(records.set_aside["row"])
    assert [len(one.rows) for one in found] == [25, 1]
    assert found[0].named.endswith("and 15 more")
