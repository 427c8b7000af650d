"""Columns of hours that hold minutes, or count something else: read as stated, asked, never taken.

The faults: kilograms and jobs passed for hours without a word, and minutes were said to be the
printer's meter.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.records.small_shop import SETTINGS, as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.counted import PER_HOUR, other_unit
from headlife.records.draft import draft_settings


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Minutes out", "minutes"),
        ("Laufzeit (min)", "minutes"),
        ("Run time [sec]", "seconds"),
        ("kg printed in", "kilograms"),
        ("Schichten", "layers"),
        ("Jobs out", "jobs"),
        ("Tage im Drucker", "days"),
        ("Hours (h:min)", None),
        ("hours_out", None),
        ("Stunden je Druckjobs", None),
        ("Meter out", None),
        ("Counter [g]", None),
        ("Zählerstand Ausbau", None),
        ("運転時間", None),
    ],
)
def test_a_name_says_what_its_column_counts(name, unit):
    assert other_unit(name) == unit


def counted(rows, factor, word):
    """The log with its hours counted in another unit, under names that say so."""
    named = []
    for row in rows:
        other = {key: value for key, value in row.items() if key not in ("hours_in", "hours_out")}
        for way in ("in", "out"):
            other[f"{word} {way}"] = f"{float(row[f'hours_{way}']) * factor:.0f}"
        other.pop("last_good_hours")
        named.append(other)
    return named


def files(folder, word, factor, unit=""):
    names = f'[columns]\nhours_in = "{word} in"\nhours_out = "{word} out"\n'
    intake = f'[intake]\nunit = "{unit}"\n' if unit else ""
    (folder / "shop.toml").write_text(SETTINGS + names + intake)
    rows = counted(rows_of(), factor, word)
    (folder / "log.csv").write_text(as_csv(rows, list(rows[0])))
    return folder / "log.csv", hl.read_shop(folder / "shop.toml")


@pytest.mark.parametrize(("word", "unit"), [("Minutes", "minutes"), ("Seconds", "seconds")])
def test_a_unit_that_is_stated_is_read_and_one_that_is_not_is_asked(tmp_path, word, unit):
    log, shop = files(tmp_path, word, PER_HOUR[unit])
    with pytest.raises(RecordsError, match=f'seems to hold {unit}.*unit = "{unit}"'):
        hl.read_records(log, shop)
    log, shop = files(tmp_path, word, PER_HOUR[unit], unit)
    hours = [float(row["hours_out"]) for row in rows_of()]
    read = hl.read_records(log, shop)
    assert not len(read.set_aside)
    assert read.accepted["hours_out"].to_numpy() == pytest.approx(np.array(hours), abs=1e-9)


def test_a_cell_in_hours_stays_in_hours(tmp_path):
    log, shop = files(tmp_path, "Minutes", 60, "minutes")
    text = log.read_text()
    assert ",24000\n" in text  # 400 h of H2
    log.write_text(text.replace(",24000\n", ",400:30\n"))
    assert hl.read_records(log, shop).accepted["hours_out"].tolist()[2] == 400.5


@pytest.mark.parametrize(("word", "what"), [("kg", "kilograms"), ("Layers", "layers")])
def test_what_is_no_time_is_never_taken_for_hours(tmp_path, word, what):
    log, shop = files(tmp_path, word, 0.5)
    with pytest.raises(RecordsError, match=f"seems to count {what}.*weekly_hours"):
        hl.read_records(log, shop)
    draft = draft_settings(log)
    assert f'"{word} out"' not in draft.partition("# Columns not used")[0]
    log, shop = files(tmp_path, word, 1, "hours")
    assert len(hl.read_records(log, shop).accepted) == 5


def test_the_draft_proposes_the_unit(tmp_path):
    log, _ = files(tmp_path, "Minutes", 60)
    draft = draft_settings(log)
    assert 'unit = "minutes"  # TO DO' in draft
