"""A drafted settings file: guesses columns, lists reasons, and loads once a person finishes it."""

from __future__ import annotations

import re

import pytest
from tests.records.small_shop import as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError, SettingsError
from headlife.records.draft import draft_settings, guess_columns

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
    """Do what the draft asks: sort the reasons, state ratings and the lead time."""
    meaning = {
        "worn out": ("failures", "wear"),
        "crash": ("failures", "damage"),
        "swap": ("suspensions", "planned swap"),
        "material change": ("suspensions", "material change"),
    }
    for reason, (table, what) in meaning.items():
        text = re.sub(rf'(?m)^# "{reason}" = .*\n', "", text)
        text = re.sub(
            rf"(?m)^\[reasons\.{table}\].*$",
            lambda m, r=reason, w=what: f'{m[0]}\n"{r}" = "{w}"',
            text,
        )
    text = re.sub(r"(?m)^# (rated_hours|lead_time_weeks)", r"\1", text)
    return text


def test_the_columns_are_guessed(tmp_path):
    text = draft(own_table(), tmp_path)
    for name, own in OWN.items():
        assert re.search(rf'(?m)^{name} = "{re.escape(own)}"', text), name
    assert 'Columns not used: "Shelf"' in text
    assert "5 rows" in text


def test_every_reason_and_type_is_listed_and_no_meaning_guessed(tmp_path):
    text = draft(own_table(), tmp_path)
    for reason in ("worn out", "swap", "material change"):
        assert f'# "{reason}" = "..."' in text
    assert '[head_types."A"]  # 4 rows' in text
    assert '[head_types."B"]  # 1 rows' in text


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
    assert 'date_format = "%d.%m.%Y"' in text
    assert 'encoding = "cp1252"' in text


def test_dates_that_fit_two_formats_are_left_to_a_person(tmp_path):
    rows = [dict(rows_of()[2], date_in="03/04/2025", date_out="05/06/2025")]
    text = draft(own_table(rows), tmp_path)
    assert '# date_format = "%d/%m/%Y" or "%m/%d/%Y"  # TO DO' in text


def test_columns_are_taken_once_and_strangers_not_at_all():
    assert guess_columns(["Head", "head", "Weight", ""]) == {"head": 0}


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
