"""Logs of shops that give their heads no serials: a head is the one in its place, in its turn."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta

import numpy as np
import pytest

import headlife as hl
from headlife.cli import main
from headlife.errors import RecordsError, SettingsError
from headlife.records.draft import draft_with_steps

SHOP = """
name = "Shop"
[intake]
INTAKE
[columns]
COLUMNS
[positions]
left = "model"
right = "support"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"rating reached" = "planned swap"
[head_types."A"]
rated_hours = 500
on_hand = 1
[spares]
lead_time_weeks = 6
"""
BEGUN, ENDS = date(2024, 1, 8), date(2026, 1, 5)
WEEKLY = 30.0


def stays(seed):
    """Stays of heads that never go in again, place by place: one follows the other at once."""
    rng = np.random.default_rng(seed)
    for printer in ("P1", "P2", "P3"):
        for position in ("left", "right"):
            day = BEGUN
            while day < ENDS:
                life = float(rng.weibull(2.0) * 600.0)
                why = "worn" if life < 500.0 else "rating reached"
                out = day + timedelta(days=round(min(life, 500.0) / WEEKLY * 7))
                if out >= ENDS:
                    out, why = ENDS, ""
                hours = round((out - day).days * WEEKLY / 7, 1)
                yield printer, position, day, out, hours, why
                day = out


def written(tmp_path, header, rows, intake, columns=""):
    lines = [header, *(",".join(map(str, row)) for row in rows)]
    (tmp_path / "log.csv").write_text("\n".join(lines) + "\n")
    text = SHOP.replace("INTAKE", intake).replace("COLUMNS", columns)
    (tmp_path / "shop.toml").write_text(text)
    return tmp_path / "log.csv", tmp_path / "shop.toml"


def lives_of(paths):
    case = hl.read_case(*paths)
    told = case.lives[["role", "entry_hours", "exit_hours", "mode", "suspension"]]
    return sorted(map(str, told.round(1).to_numpy().tolist())), case


@pytest.mark.parametrize("seed", [1, 2])
def test_stays_without_serials_give_the_lives_they_give_with_them(tmp_path, seed):
    header = "printer,position,date_in,hours_in,date_out,hours_out,reason"
    rows = [(p, s, i, 0, o, h, why) for p, s, i, o, h, why in stays(seed)]
    rows = [rows[k] for k in np.random.default_rng(seed).permutation(len(rows))]
    with_them = [(f"S{k}", *row) for k, row in enumerate(rows)]
    told, _ = lives_of(written(tmp_path, f"head,{header}", with_them, ""))
    found, case = lives_of(written(tmp_path, header, rows, "without_serials = true"))
    assert found == told
    assert set(case.lives["head"]) >= {"P1 left 1", "P1 left 2", "P3 right 1"}
    assert case.records.rows_used == len(rows)
    assert "counts as another one" in case.records.notes[0]


def test_a_log_of_changes_gives_them_too_but_the_first_of_a_place(tmp_path):
    """A row a change, by the printer's meter: what came out first went in before the log."""
    rows, meter = [], {"P1": 5000.0, "P2": 800.0, "P3": 0.0}
    for printer, position, _, out, _, why in stays(3):
        if why:
            at = meter[printer] + (out - BEGUN).days * WEEKLY / 7
            rows.append((out, printer, position, why, f"{at:.1f}"))
    last = [(ENDS, p, "", "", f"{meter[p] + (ENDS - BEGUN).days * WEEKLY / 7:.1f}") for p in meter]
    rows = sorted(rows) + last
    intake = 'shape = "orders"\nwithout_serials = true\nas_of = "last reading"'
    columns = 'date = "day"\nprinter_hours = "meter"'
    paths = written(tmp_path, "day,printer,position,reason,meter", rows, intake, columns)
    _, case = lives_of(paths)
    found = sorted(round(hours, 0) for hours in case.lives["exit_hours"])
    told = [(p, s, h) for p, s, _, _, h, _ in stays(3)]
    told = [h for k, (p, s, h) in enumerate(told) if k and told[k - 1][:2] == (p, s)]
    assert found == pytest.approx(sorted(told), abs=1.0)
    notes = " ".join(case.records.notes)
    assert "6 heads that came out with the first order of their place are not used" in notes
    assert "visits" in notes and case.records.set_aside.empty


def test_the_review_says_how_the_records_were_read(tmp_path, capsys):
    header = "printer,position,date_in,hours_in,date_out,hours_out,reason"
    rows = [(p, s, i, 0, o, h, why) for p, s, i, o, h, why in stays(7)]
    paths = [str(one) for one in written(tmp_path, header, rows, "without_serials = true")]
    command = ["review", paths[0], "--shop", paths[1]]
    page = tmp_path / "page.html"
    assert main([*command, "--out", str(page)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "every head that goes in counts as another one" in said
    assert "every head that goes in counts as another one" in page.read_text(encoding="utf-8")
    assert main([*command, "--json"]) == 0
    (note,) = json.loads(capsys.readouterr().out)["records"]["notes"]
    assert note.startswith("Heads have no serials here")


def test_none_waits_on_the_shelf(tmp_path):
    header = "printer,position,date_in,hours_in,date_out,hours_out,reason"
    rows = [(p, s, i, 0, o, h, why) for p, s, i, o, h, why in stays(4)]
    change = SHOP.replace('"planned swap"', '"material change"')
    path, settings = written(tmp_path, header, rows, "without_serials = true")
    settings.write_text(change.replace("INTAKE", "without_serials = true").replace("COLUMNS", ""))
    assert not hl.read_case(path, settings).lives["on_shelf"].any()
    text = settings.read_text().replace(
        "[reasons.failures]", '[reasons]\nreusable = ["material change"]\n[reasons.failures]'
    )
    settings.write_text(text)
    with pytest.raises(SettingsError, match="reusable says that heads go in again"):
        hl.read_shop(settings)


def test_shapes_that_cannot_do_without_say_so(tmp_path):
    intake = 'shape = "events"\nwithout_serials = true\n[intake.events]\n"in" = "installed"'
    _, settings = written(tmp_path, "a", [], intake)
    with pytest.raises(SettingsError, match='goes with shape = "stretches" or "orders"'):
        hl.read_shop(settings)


def test_a_log_without_serials_is_told_what_to_state(tmp_path):
    header = "printer,position,date_in,hours_in,date_out,hours_out,reason"
    rows = [(p, s, i, 0, o, h, why) for p, s, i, o, h, why in stays(5)]
    with pytest.raises(RecordsError, match="state .intake. without_serials = true"):
        hl.read_case(*written(tmp_path, header, rows, ""))
    text, steps = draft_with_steps(tmp_path / "log.csv")
    assert re.search(r"(?m)^without_serials = true  # TO DO", text)
    assert not any("which column" in step for step in steps)


def test_a_draft_knows_a_log_of_changes(tmp_path):
    rows = [(o, p, s, why, h) for p, s, _, o, h, why in stays(6) if why]
    written(tmp_path, "Date,Printer,Side,Reason,Head hours", rows, "")
    text, steps = draft_with_steps(tmp_path / "log.csv")
    assert 'shape = "orders"' in text and "without_serials = true" in text
    assert 'hours = "Head hours"' in text and '"worn" = "wear"' in text
    assert not any("which column" in step for step in steps)
