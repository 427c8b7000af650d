"""The audit: each disagreement between rows found, treated as stated, and nothing else."""

from __future__ import annotations

from datetime import date

import pytest
from tests.records.small_shop import as_csv, rows_of

import headlife as hl
from headlife.records.audit import audit
from headlife.records.checks import plausible_until

TODAY = date(2025, 7, 1)


def doubts(records, today=TODAY):
    found = audit(records, today=today)
    return found[found["severity"] != "error"]


def test_sound_rows_give_no_finding(read):
    records = read()
    assert records.set_aside.empty
    assert audit(records, today=TODAY).empty


def spoilt(which: int, **cells: str):
    rows = rows_of()
    rows[which] |= cells
    return rows


@pytest.mark.parametrize(
    ("rows", "row", "column", "sentence"),
    [
        (spoilt(2, hours_out="40000"), 4, "hours_out", "40,000.0 print hours in 181 days"),
        (spoilt(1, hours_in="20", hours_out="90", last_good_hours=""), 3, "hours_in", "backwards"),
        (spoilt(1, hours_in="9000", hours_out="9100", last_good_hours=""), 3, "hours_in", "24 a d"),
        (spoilt(0, reason="worn out"), 3, "head", "row 2 says that it failed.*suspensions"),
        (spoilt(0, reason="swap", hours_out="400"), 3, "hours_in", "backwards|starts anew"),
        (spoilt(4, date_out="2062-06-30"), 6, "date_out", "13,514 days after every other date"),
        (rows_of() + rows_of()[:1], 7, "head", "the installation of row 2 again"),
        (
            rows_of() + [rows_of()[4] | {"hours_out": "300", "date_out": "2025-07-31"}],
            6,
            "head",
            "the installation of row 7 again",
        ),
    ],
)
def test_what_cannot_be_true_is_set_aside(read, rows, row, column, sentence):
    records = read(rows)
    assert records.set_aside["row"].tolist() == [row]
    assert records.set_aside["column"].tolist() == [column]
    assert records.set_aside["problem"].str.contains(sentence).all()
    assert len(records.accepted) + 1 == records.rows_read
    first = audit(records, today=TODAY).iloc[0]
    assert (first["check"], first["severity"], first["treatment"]) == (
        "row set aside",
        "error",
        "set aside",
    )


def test_a_serial_under_two_types_is_set_aside_whole(read):
    records = read(spoilt(1, head_type="B"))
    assert records.set_aside["row"].tolist() == [2, 3]
    assert records.set_aside["problem"].str.contains("'A' and 'B'").all()


def test_a_serial_used_again_keeps_the_first_head_only(read):
    rows = rows_of()
    more = [
        rows[3] | {"date_in": "2025-04-02", "hours_in": "0", "date_out": "2025-05-01"},
        rows[3] | {"date_in": "2025-05-02", "hours_in": "100", "date_out": "2025-06-01"},
    ]
    more[0]["hours_out"], more[1]["hours_out"] = "100", "600"
    records = read([*rows, *more])
    assert records.set_aside["row"].tolist() == [7, 8]
    assert "starts anew although head 'H3' came out for good" in records.set_aside["problem"][0]
    life = hl.lives(records).set_index("head").loc["H3"]
    assert (life["entry_hours"], life["exit_hours"]) == (250.0, 500.0)


def test_after_a_slip_the_head_goes_on_from_its_last_sound_reading(read):
    rows = rows_of()
    stint = rows[1] | {"reason": "material change", "last_good_hours": ""}
    more = [
        stint | {"date_in": "2025-05-02", "hours_in": "30", "hours_out": "40"},
        stint | {"date_in": "2025-06-02", "hours_in": "300", "hours_out": "410"},
    ]
    more[0]["date_out"], more[1]["date_out"] = "2025-05-09", "2025-06-20"
    rows[1] = stint
    records = read([*rows, *more])
    assert records.set_aside["row"].tolist() == [7]
    assert hl.lives(records).set_index("head").loc["H1", "exit_hours"] == 410.0


def test_a_head_with_a_row_set_aside_is_not_counted_on_the_shelf(read):
    rows = rows_of()
    rows[1]["reason"] = "worn out"
    rows[1]["date_out"] = "soon"
    life = hl.lives(read(rows)).set_index("head").loc["H1"]
    assert life["suspension"] == "material change"
    assert not life["on_shelf"]


@pytest.mark.parametrize(
    ("rows", "check", "row", "sentence"),
    [
        (spoilt(1, hours_in="150"), "hours missing", "2, 3", "49.5 h count as run"),
        (spoilt(1, hours_in="90"), "counter steps back", "2, 3", "10.5 h less"),
        (spoilt(1, date_in="2025-01-20"), "dates overlap", "2, 3", "12 days before it came out"),
        (spoilt(1, role="support"), "role changes", "3", "It counts as model"),
        (
            spoilt(3, date_in="2025-01-10", hours_in="0"),
            "two heads in one position",
            "2, 5",
            "'H1' .row 2. and 'H3' .row 5. were both",
        ),
        (spoilt(3, reason=""), "reason not written down", "5", "count. as taken out working"),
        (spoilt(0, reason=""), "removal not written down", "2", "cause unknown"),
        (spoilt(1, head="h-1"), "two spellings", "2, 3", "'H1' and 'h-1'"),
        (spoilt(4, head="H3-R1"), "serials of repaired heads", "6", "'H3-R1', say, after 'H3'"),
        (spoilt(4, printer="p1", position="third"), "two spellings", "2, 6", "'P1' and 'p1'"),
        (spoilt(3, hours_in="500", reason="crash"), "failed with no hours run", "5", "in no life"),
    ],
)
def test_doubts_are_kept_and_flagged(read, rows, check, row, sentence):
    records = read(rows)
    assert len(records.accepted) == records.rows_read
    found = doubts(records)
    assert found["check"].tolist() == [check]
    assert found["rows"].tolist() == [row]
    assert found["treatment"].tolist() == ["kept and flagged"]
    assert found["sentence"].str.contains(sentence).all()


@pytest.mark.parametrize(
    ("column", "values", "sentence"),
    [
        ("lot", ("L7", "L8"), "more than one lot in its rows: 'L7' .row 2. and 'L8' .row 3."),
        ("vendor", ("Alfa", "Beta"), "the last counts, 'Beta'"),
        ("date_bought", ("2024-11-02", "2024-12-02"), "day of purchase .* 2024-12-02"),
    ],
)
def test_a_head_of_two_lots_or_vendors_is_flagged_and_the_last_counts(
    read, column, values, sentence
):
    """The fault: one head's rows named two vendors and nobody said so."""
    rows = [row | {column: ""} for row in rows_of()]
    rows[0][column], rows[1][column] = values
    records = read(as_csv(rows, list(rows[0])))
    found = doubts(records)
    assert found["rows"].tolist() == ["2, 3"]
    assert found["head"].tolist() == ["H1"]
    assert found["check"].str.fullmatch("two (lots|vendors|days of purchase)").all()
    assert found["sentence"].str.contains(sentence).all()
    of_h1 = hl.lives(records).set_index("head").loc["H1", column]
    assert str(of_h1).startswith(values[1])
    rows[1][column] = ""  # said once is enough
    assert doubts(read(as_csv(rows, list(rows[0])))).empty


def test_a_refurbished_head_may_have_another_vendor(read):
    rows = [row | {"vendor": "Alfa", "refurbished": ""} for row in rows_of()]
    rows[1] |= {"vendor": "Mender", "refurbished": "yes", "hours_in": "0"}
    assert "two vendors" not in doubts(read(as_csv(rows, list(rows[0]))))["check"].tolist()


def test_a_head_left_open_is_not_in_service(read):
    from headlife.records.lives import in_service

    records = read(spoilt(3, reason=""))
    assert "H3" not in set(in_service(records)["head"])
    assert not hl.lives(records).set_index("head").loc["H3", "in_service"]


def test_a_position_is_its_printer_and_its_own_name(read):
    # Written one after the other, both would be "P11a".
    rows = rows_of()
    rows[2] |= {"printer": "P1", "position": "1a"}
    rows[4] |= {"printer": "P11", "position": "a"}
    records = read(rows)
    assert doubts(records).empty
    assert sorted(hl.in_service(records)["head"]) == ["H2", "H4"]


def test_readings_within_an_hour_are_the_same_reading(read):
    assert doubts(read(spoilt(1, hours_in="101.4"))).empty
    assert not doubts(read(spoilt(1, hours_in="101.6"))).empty


def test_stale_readings_and_future_dates(read):
    records = read(spoilt(4, date_out="2025-05-01", hours_out="50"))
    found = doubts(records)
    assert found["check"].tolist() == ["stale reading"]
    assert found["severity"].tolist() == ["note"]
    assert "60 days before the newest" in found["sentence"].iloc[0]
    found = doubts(read(), today=date(2025, 6, 1))
    assert found["check"].tolist() == ["future date"]
    assert found["rows"].tolist() == ["4, 6"]


def test_a_clock_that_is_behind_refuses_nothing(read):
    rows = read().accepted
    for today in (date(2020, 1, 1), date(2025, 2, 1), date(2025, 6, 30)):
        assert plausible_until(rows["date_out"].to_numpy().astype("datetime64[D]"), today) is None
    late = read(spoilt(4, date_out="2062-06-30"), unknown="set aside")
    assert late.set_aside["row"].tolist() == [6]


def test_what_was_accepted_can_be_written_and_read_again(read, shop, tmp_path):
    rows = rows_of() + rows_of()[:1]
    rows[2]["note"] = '=HYPERLINK("x"), "quoted"\n<script>'
    records = read(rows)
    records.write_accepted(tmp_path / "again.csv")
    again = hl.read_records(tmp_path / "again.csv", shop)
    assert again.set_aside.empty
    assert again.accepted.drop(columns="row").equals(records.accepted.drop(columns="row"))


def test_a_quarter_without_any_reading_is_said(read):
    """Rows of months may be lost; nothing was said of them."""
    rows = rows_of()
    assert "nothing on record" not in doubts(read(rows))["check"].tolist()
    later = {"head": "H9", "date_in": "2026-01-10", "date_out": "2026-03-01"}
    rows.append({**rows[0], **later, "reason": ""})
    found = doubts(read(rows), today=date(2026, 3, 1))
    said = found[found["check"] == "nothing on record"]
    assert said["severity"].tolist() == ["note"]
    assert "and 2026-01-10 (" in said["sentence"].iloc[0]
