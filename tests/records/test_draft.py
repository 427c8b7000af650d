"""A drafted settings file: guesses columns, lists reasons, and loads once a person finishes it."""

from __future__ import annotations

import re

import pytest
from openpyxl import Workbook
from tests.records.small_shop import as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError, SettingsError
from headlife.records.draft import draft_settings, draft_with_steps

OWN = {
    "head": "Serial No.",
    "head_type": "Type",
    "role": "Used for",
    "printer": "Machine",
    "position": "Slot",
    "date_in": "Installed",
    "hours_in": "Hours in",
    "date_out": "Removed on",
    "hours_out": "Hours out",
    "reason": "Removal reason",
    "note": "Remarks",
}


def own_table(rows=None) -> str:
    rows = [{own: row[name] for name, own in OWN.items()} for row in rows or rows_of()]
    return as_csv([row | {"Shelf": "3"} for row in rows], [*OWN.values(), "Shelf"], delimiter=";")


def draft(text, tmp_path, name="own.csv") -> str:
    (tmp_path / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return draft_settings(tmp_path / name)


def finished(text: str) -> str:
    """Do what the draft asks: place the reasons without a proposal, state ratings, lead time."""
    text = re.sub(r'(?m)^# "(crash|swap)" = .*\n', "", text)
    text = re.sub(r"(?m)^(\[reasons\.suspensions\].*)$", r'\1\n"swap" = "planned swap"', text)
    return re.sub(r"(?m)^# (rated_hours|lead_time_weeks)", r"\1", text)


def test_the_columns_are_guessed(tmp_path):
    text = draft(own_table(), tmp_path)
    for name, own in OWN.items():
        assert re.search(rf'(?m)^{name} = "{re.escape(own)}"', text), name
    assert 'Columns not used: "Shelf"' in text
    assert "5 rows" in text


def test_every_reason_and_type_is_listed_and_no_meaning_is_settled(tmp_path):
    text = draft(own_table(), tmp_path)
    for line in (
        '"worn out" = "wear"  # TO DO: is it so? 1 rows',
        '"material change" = "material change"  # TO DO: is it so? 1 rows',
        '# "swap" = "..."  # TO DO: 1 rows',
        '[head_types."A"]  # 4 rows',
        '[head_types."B"]  # 1 rows',
    ):
        assert f"\n{line}\n" in text


def test_a_draft_does_not_load_until_it_is_finished(tmp_path):
    (tmp_path / "shop.toml").write_text(draft(own_table(), tmp_path))
    with pytest.raises(SettingsError, match="lacks the key 'rated_hours'"):
        hl.read_shop(tmp_path / "shop.toml")


def test_a_finished_draft_reads_the_table(read, tmp_path):
    (tmp_path / "own.toml").write_text(finished(draft(own_table(), tmp_path)))
    shop = hl.read_shop(tmp_path / "own.toml")
    got = hl.read_records(tmp_path / "own.csv", shop).accepted
    plain = read().accepted
    same = ["row", "head", "role", "date_in", "hours_out", "mode", "suspension"]
    assert got[same].equals(plain[same])


def test_dates_decimals_and_encoding_are_noticed(tmp_path):
    rows = rows_of()
    for row in rows:
        row["note"] = "\u00e9"
        for name in ("date_in", "date_out"):
            row[name] = ".".join(reversed(row[name].split("-")))
        for name in ("hours_in", "hours_out"):
            row[name] = row[name].replace(".", ",")
    text = draft(own_table(rows).encode("cp1252"), tmp_path)
    assert 'decimal = ","' in text
    assert 'date_order = "day first"' in text
    assert 'encoding = "cp1252"' in text


def test_dates_that_fit_two_orders_are_left_to_a_person(tmp_path):
    rows = [dict(rows_of()[2], date_in="03/04/2025", date_out="05/06/2025")]
    text = draft(own_table(rows), tmp_path)
    assert "# date_order = " in text
    assert not re.search(r"(?m)^date_order", text)
    assert '2025-04-03 (date_order = "day first")' in text


def test_hours_that_can_be_two_numbers_never_settle_the_mark(tmp_path):
    rows = rows_of()
    rows[2]["hours_out"] = "6,120"
    for row in rows[:2] + rows[3:]:
        row["hours_in"] = row["hours_out"] = "0"
    text = draft(own_table(rows), tmp_path)
    assert not re.search(r"(?m)^decimal", text)
    assert '# decimal = "." or ","' in text


def test_one_column_never_serves_twice(tmp_path):
    lines = ["Serial;Type;Use;Machine;Slot;Date;Hours;Why"]
    lines += [f"H{i};A;model;P1;left;2025-01-{i + 1:02d};{i}.5;worn out" for i in range(6)]
    text = draft("\n".join(lines), tmp_path)
    for own in ("Date", "Hours"):
        assert len(re.findall(rf'(?m)^\w+ = "{own}"', text)) <= 1
    assert "# date_in" in text or "# date_out" in text


def test_a_title_and_a_row_of_data_are_no_header(tmp_path):
    table = own_table().splitlines()
    title = "Print heads: serial, type and hours of every head since 2019;;;;;;;;;;;"
    text = draft("\n".join([title, "", table[0], *table[1:]]), tmp_path)
    assert 'head = "Serial No."' in text
    assert "5 rows" in text.splitlines()[0]


def test_reasons_with_signs_stay_on_one_line(tmp_path):
    rows = rows_of()
    rows[0]["reason"] = 'he said "stop"\n= 1 \x7f'
    text = draft(own_table(rows), tmp_path)
    assert '# "he said \\"stop\\" = 1 \\u007F" = "..."' in text


@pytest.mark.parametrize(
    ("text", "sentence"),
    [("", "the file is empty"), ("Serial;Type\n", "a header and no rows")],
)
def test_nothing_to_draft_from(text, sentence, tmp_path):
    with pytest.raises(RecordsError, match=sentence):
        draft(text, tmp_path)


def test_what_else_can_be_said_is_there_to_be_taken_up(tmp_path):
    text = finished(draft(own_table(), tmp_path)).replace("HEAD TYPE", "A")
    text = re.sub(
        r"(?m)^# (?=(orders|sites?|begins|weekly_hours|model|support)\b|\[new_)", "", text
    )
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    shop = hl.read_shop(tmp_path / "shop.toml")
    assert shop.spares.sites == "separate"
    assert shop.head_types["A"].orders["NUMBER"].site == "SITE"
    assert shop.new_printers["NAME"].model == "A"


def test_an_earlier_draft_keeps_what_was_decided_and_adds_what_is_new(tmp_path):
    earlier = finished(draft(own_table(), tmp_path)).replace(
        '"worn out" = "wear"', '"worn out" = "tip"'
    )
    earlier = earlier.replace('primary_mode = "wear"', 'primary_mode = "tip"  # our word')
    (tmp_path / "earlier.toml").write_text(earlier, encoding="utf-8")
    rows = [*rows_of(), dict(rows_of()[2], head="H9", head_type="C", reason="broken", role="model")]
    rows += [dict(rows_of()[3], head="H10", reason="sold to a friend")]
    (tmp_path / "own.csv").write_text(own_table(rows))
    text, steps = draft_with_steps(tmp_path / "own.csv", earlier=tmp_path / "earlier.toml")
    assert [line for line in earlier.splitlines() if line not in text.splitlines()] == []
    assert '"worn out" = "tip"' in text
    assert '"worn out" = "wear"' not in text
    assert '"broken" = "damage"  # TO DO: is it so? 1 rows' in text
    assert '# "sold to a friend" = "..."' in text
    assert '[head_types."C"]  # TO DO: new in the log' in text
    assert any("broken" in step for step in steps)


def test_an_earlier_draft_of_the_same_log_gains_nothing(tmp_path):
    earlier = finished(draft(own_table(), tmp_path))
    (tmp_path / "earlier.toml").write_text(earlier, encoding="utf-8")
    assert draft_with_steps(tmp_path / "own.csv", earlier=tmp_path / "earlier.toml") == (
        earlier,
        [],
    )


def test_the_draft_ends_with_what_is_left_to_state_in_order(tmp_path):
    rows = rows_of()
    rows[0]["date_in"] = "soon"
    text, steps = draft_with_steps(_written(own_table(rows), tmp_path))
    assert [step.split(":")[0] for step in steps[:4]] == [
        'what "crash", "swap" mean' if "crash" in text else 'what "swap" means',
        'the rated hours of "A", "B"',
        "weeks from order to delivery",
        steps[3].split(":")[0],
    ]
    assert "proposals marked TO DO" in steps[3]
    assert "row 2, date_in 'soon' is not a date" in steps[4]
    assert text.rstrip().endswith(f"# {len(steps)}. {steps[-1]}")


def _written(text, tmp_path):
    (tmp_path / "own.csv").write_text(text)
    return tmp_path / "own.csv"


def test_two_columns_of_one_name_go_by_their_letter(tmp_path):
    lines = ["Serial;Type;Use;Machine;Slot;Fitted;Hours;Taken out;Hours;Why"]
    lines += [f"H{i};A;model;P{i};left;2025-01-0{i};0;2025-03-0{i};{9 * i}.5;" for i in range(1, 7)]
    (tmp_path / "own.csv").write_text("\n".join(lines))
    text = draft_settings(tmp_path / "own.csv")
    assert 'hours_in = "column G"' in text
    assert 'hours_out = "column I"' in text
    (tmp_path / "own.toml").write_text(finished(text))
    records = hl.read_records(tmp_path / "own.csv", hl.read_shop(tmp_path / "own.toml"))
    assert records.accepted["hours_out"].tolist() == [9.5, 18.5, 27.5, 36.5, 45.5, 54.5]


def test_a_title_right_above_the_header_is_not_joined_to_it(tmp_path):
    text = draft("Head log;;;\n" + own_table(), tmp_path)
    assert 'head = "Serial No."' in text


def test_a_needed_column_is_found_under_another_name(tmp_path):
    lines = ["Serial;Type;Material;Machine;Slot;Fitted;Hours in;Taken out;Hours out;Remarks"]
    for i in range(1, 7):
        word = ("soluble support", "part material")[i % 2]
        why = ("worn out", "dropped", "clogged")[i % 3]
        lines.append(f"H{i};A;{word};P{i};left;2025-01-0{i};0;2025-03-0{i};{9 * i};{why}")
    text = draft("\n".join(lines), tmp_path)
    assert 'role = "Material"  # TO DO: is it so?' in text
    assert 'reason = "Remarks"  # TO DO: is it so?' in text
    assert '"clogged" = "clogging"  # TO DO: is it so? 2 rows' in text


def test_days_only_ask_for_hours_a_week_and_files_beside_are_offered(tmp_path):
    lines = ["Head,Machine,Position,Installed,Removed,Reason"]
    lines += [f"A{i},P1,left,2025-0{i}-01,2025-0{i + 1}-01,worn out" for i in range(1, 6)]
    for name in ("log_2024.csv", "log_2025.csv", "log_2025.check.csv"):
        (tmp_path / name).write_text("\n".join(lines))
    text, steps = draft_with_steps(tmp_path / "log_2025.csv")
    assert "# weekly_hours = 40  # TO DO" in text
    assert '# more_files = ["log_2024.csv"]  # TO DO' in text
    assert any("print hours a week" in step for step in steps)
    assert any("log_2024.csv belong to the log" in step for step in steps)


def test_hours_that_look_like_a_meter_offer_the_line_that_settles_it(tmp_path):
    from tests.records.messy_logs import by_meter_as_hours

    log = by_meter_as_hours(1)
    (tmp_path / "log.xlsx").write_bytes(log.files["log.xlsx"])
    text, steps = draft_with_steps(tmp_path / "log.xlsx")
    assert '# hours = "printer"  # TO DO' in text
    assert any('hours = "printer"' in step for step in steps)


def test_the_day_of_a_title_is_found_among_its_other_words(tmp_path):
    rows = rows_of()
    rows[-1] = rows[-1] | {"date_out": "", "reason": ""}
    table = own_table(rows)
    found = draft(f"Heads of hall 2\nAs of 30.06.2025 (J. M.)\n{table}", tmp_path)
    assert "as_of = 2025-06-30" in found


@pytest.mark.parametrize("cover", [[], [["Heads of our shop"], ["see the other sheet"]]])
def test_a_log_on_a_hidden_sheet_is_found_and_named(tmp_path, cover):
    """The cover was looked at in its place: "the file is empty"."""
    book = Workbook()
    for row in cover:
        book.active.append(row)
    log = book.create_sheet("Export")
    for line in own_table().splitlines():
        log.append([cell or None for cell in line.split(";")])
    log.sheet_state = "hidden"
    book.save(tmp_path / "log.xlsx")
    text = draft_settings(tmp_path / "log.xlsx")
    assert '\nsheet = "Export"\n' in text
    assert re.search(r'(?m)^head = "Serial No."', text)


def test_a_ticket_export_is_dated_by_the_day_a_ticket_was_closed(tmp_path):
    """The fault: the day it was opened, which comes first, was proposed as the day of the swap."""
    rows = ["Ticket,Opened,Closed,Machine,Slot,Old serial,New serial,Cause,Meter"]
    for n in range(12):
        days = f"2025-{n % 9 + 1:02}-01,2025-{n % 9 + 1:02}-04"
        rows.append(f"T{n},{days},Auk,left,K{n},K{n + 1},worn,9{n:02}")
    (tmp_path / "log.csv").write_text("\n".join(rows))
    assert re.search(r'(?m)^date = "Closed"', draft_settings(tmp_path / "log.csv"))


def test_hours_on_the_head_are_those_at_the_end_and_a_printers_hours_are_no_heads(tmp_path):
    """The faults: "Hours on head" was taken for those at the start, for its "on", and "Printer
    hours" beside a day fitted for the head's own counter."""
    rows = ["Date,Printer,Slot,Serial,Hours on head,Defect"]
    rows += [f"2025-03-{n:02},Auk,left,H{n},{700 + n},worn out" for n in range(1, 13)]
    (tmp_path / "log.csv").write_text("\n".join(rows))
    assert re.search(r'(?m)^hours_out = "Hours on head"', draft_settings(tmp_path / "log.csv"))
    rows = ["Serial,Type,Printer,Slot,Date fitted,Printer hours"]
    rows += [f"H{n},T,Auk,left,2025-03-{n:02},{700 + 9 * n}" for n in range(1, 13)]
    (tmp_path / "in.csv").write_text("\n".join(rows))
    assert re.search(
        r'(?m)^printer_hours_out = "Printer hours"', draft_settings(tmp_path / "in.csv")
    )


def test_hours_reached_are_no_damage_and_dashes_are_blank(tmp_path):
    """The faults: "hit 1000h" was proposed as damage; a dash as reason was a text to explain."""
    head = "Serial,Type,Role,Printer,Slot,In,Hours in,Out,Hours out,Reason"
    reasons = ["hit 1000h", "Wechsel nach Stunden", "worn out", "-"]
    rows = [
        f"H{n},T,model,Auk {n},left,2025-01-01,0,2025-06-0{n % 4 + 1},{900 + n},{reasons[n % 4]}"
        for n in range(16)
    ]
    (tmp_path / "log.csv").write_text("\n".join([head, *rows]))
    draft = draft_settings(tmp_path / "log.csv")
    assert '"hit 1000h" = "damage"' not in draft
    assert '"Wechsel nach Stunden" = "planned swap"' in draft
    assert '"-"' not in draft


def test_words_of_a_sum_row_are_none_of_the_log(tmp_path):
    """The fault: "65 heads" beside "Total" was proposed as a head type to be given a rating."""
    rows = ["Serial,Type,Role,Printer,Slot,In,Hours in,Out,Hours out,Reason"]
    rows += [
        f"H{n},T,model,Auk {n},left,2025-01-01,0,2025-06-0{n % 4 + 1},{900 + n},worn out"
        for n in range(16)
    ]
    (tmp_path / "log.csv").write_text("\n".join([*rows, "Total,16 heads,,,,,,,14520,"]))
    draft = draft_settings(tmp_path / "log.csv")
    assert "16 heads" not in draft
    assert '[head_types."T"]' in draft
