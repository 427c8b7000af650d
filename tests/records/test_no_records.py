"""Which rows are no records: sums, headings, headers again, rows that the settings leave out."""

from __future__ import annotations

import pytest
from tests.records.small_shop import COLUMNS, as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.no_records import A_HEADER, A_HEADING, A_SUM, NOTHING

BLANK = dict.fromkeys(COLUMNS, "")
ROWS = {
    "a sum": (BLANK | {"head": "Total", "hours_out": "1511"}, A_SUM),
    "a sum in another language": (BLANK | {"printer": "Zwischensumme:", "hours_out": "9"}, A_SUM),
    "a mean": (BLANK | {"note": "Average life", "hours_out": "377.8"}, A_SUM),
    "a heading": (BLANK | {"head": "", "printer": "Second floor"}, A_HEADING),
    "a remark": (BLANK | {"note": "printers moved in March"}, A_HEADING),
    "a heading where serials stand": (BLANK | {"head": "March 2025"}, A_HEADING),
    "the header again in capitals": (
        {name: name.upper().replace("_", " ") for name in COLUMNS},
        A_HEADER,
    ),
    "the header again": (dict(zip(COLUMNS, COLUMNS, strict=True)), A_HEADER),
    "an empty position": (BLANK | {"printer": "P1", "position": "left", "site": "S1"}, NOTHING),
}


@pytest.mark.parametrize(("row", "why"), ROWS.values(), ids=ROWS)
def test_rows_that_record_nothing_are_listed_with_what_they_are(row, why, read):
    rows = [*rows_of()[:2], row, *rows_of()[2:]]
    records = read(rows)
    assert records.no_records.to_numpy().tolist() == [[4, why]]
    assert records.set_aside.empty
    assert (records.rows_read, records.rows_used, len(records.accepted)) == (6, 5, 5)
    assert "1 no records" in records.summary()


RECORDS = {
    "no serial": BLANK | {"hours_out": "500", "reason": "worn out"},
    "a day only": BLANK | {"date_in": "2025-03-01"},
    "a serial only": BLANK | {"head": "H9"},
    "a longer serial only": BLANK | {"head": "H1234"},
    "words where serials stand, and more": BLANK | {"head": "March 2025", "printer": "P1"},
    "a head called Total, with days": rows_of()[0] | {"head": "Total", "hours_in": "x"},
}


@pytest.mark.parametrize("row", RECORDS.values(), ids=RECORDS)
def test_rows_that_hold_anything_of_a_record_are_never_taken_for_none(row, read):
    records = read([*rows_of(), row], unknown="set aside")
    assert records.no_records.empty
    assert records.set_aside["row"].tolist() == [7]


def test_a_table_of_sums_alone_has_no_record(read):
    with pytest.raises(RecordsError, match="none of its 2 rows is a record .a sum or a mean"):
        read([BLANK | {"head": "Sum", "hours_out": "5"}] * 2)


def test_rows_that_the_settings_leave_out_say_so(read, shop_with):
    shop = shop_with('[intake.only]\n"site" = ["S1"]\n')
    rows = rows_of()
    rows[3]["site"], rows[4]["site"] = "Elsewhere", ""
    rows[4]["date_in"] = "soon"  # not looked at
    records = read(rows, shop)
    assert records.no_records["why"].tolist() == [
        "site is 'Elsewhere', which [intake] only leaves out",
        "site is '', which [intake] only leaves out",
    ]
    assert len(records.accepted) == 3


def test_text_of_a_row_left_out_settles_nothing(tmp_path, shop):
    """A sum written with a comma does not tell how the hours of records are written."""
    rows = [*rows_of(), BLANK | {"head": "Total", "hours_out": "1,511"}]
    (tmp_path / "log.csv").write_text(as_csv(rows))
    records = hl.read_records(tmp_path / "log.csv", shop)
    assert not records.questions and len(records.accepted) == 5
