"""The plan as people meet it: safety first, every sentence, a calendar, files that open."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import icalendar
import openpyxl
import pytest

import headlife as hl
from headlife.cli import main
from headlife.decisions.plan.build_plan import build_plan
from headlife.show.plan.calendar import plan_calendar
from headlife.show.plan.page import plan_page
from headlife.show.plan.values import plan_rows, plan_values
from headlife.show.words import plan as words
from headlife.show.words.cautions import CAUTIONS

DEMO = Path(__file__).parents[2] / "data_demo"
FILES = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]
BROKEN = """build,printer,head_type,site,hours,earliest,due,remark
Sign <b>post</b>,Badgr,,,40,,,lobby
Arch,,Fibre,Pier,40,,
Tower,,,,1300,,
Bench,Otter,,,90,2026-10-05,2026-10-07
Fine,Otter,,,20,2026-10-05,
Clash 1,Wren,,,60,2026-10-05,2026-10-08
Clash 2,Wren,,,60,2026-10-05,2026-10-08
Odd,Wren,,,many,,
"""


@pytest.fixture(scope="module")
def case():
    return hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")


@pytest.fixture(scope="module")
def plan(case):
    return build_plan(case, hl.read_builds(DEMO / "builds.csv"))


@pytest.fixture
def broken(case, tmp_path):
    (tmp_path / "builds.csv").write_text(BROKEN)
    return build_plan(case, hl.read_builds(tmp_path / "builds.csv"))


def test_the_safety_rules_of_the_site_come_first(plan, capsys):
    assert words.cautions(plan)[0] == CAUTIONS[0]
    assert any(CAUTIONS[1] in one for one in words.cautions(plan)) == bool(len(plan.past_rating))
    assert main(["plan", *FILES, "--builds", str(DEMO / "builds.csv")]) == 0
    said = capsys.readouterr().out
    assert said.index("Swap heads only") < said.index("22 builds on 11 printers")
    page = plan_page(plan).html()
    assert page.index("Swap heads only") < page.index("22 builds on 11 printers")


def test_each_build_that_cannot_be_done_has_its_sentence_and_a_way_out(broken):
    said = "\n".join(words.doubts(broken))
    assert "no printer 'Badgr' is in service" in said and "Badger" in said
    assert "no printer in service has a Fibre head and stands at Pier" in said
    assert "split it into builds of at most 1,200 h" in said
    assert "cannot be done by 7 October 2026" in said and "it could be by 8 October 2026" in said
    assert "Clash" in said and "after its due day" in said
    assert "builds.csv, row 9: build_hours 'many'" in said
    assert "Not used: the column 'remark' of the table of builds" in said
    assert set(broken.builds["build"]) == {"Fine", "Clash 1", "Clash 2"}
    assert broken.rows_asked == 8


def test_a_head_that_runs_on_for_want_of_a_spare_has_its_sentence(case):
    gone = {"on_hand": 0, "on_order": 0}
    types = {name: one.model_copy(update=gone) for name, one in case.shop.head_types.items()}
    shop = case.shop.with_(head_types=types, spares={"use_shelf": False})
    plan = build_plan(replace(case, shop=shop), hl.read_builds(DEMO / "builds.csv"))
    said = "\n".join(words.doubts(plan))
    assert "S014 in Marten right runs on past its swap age of 1,200 h, to 1,602 h" in said
    assert "one ordered today is there on 11 November 2026" in said
    assert words.why(plan.swaps.iloc[0]).startswith("would pass")


def test_rows_are_typed_and_values_survive_json(plan):
    rows = plan_rows(plan)
    assert len({len(row) for row in rows}) == 1
    assert len(rows) == 1 + len(plan.builds) + len(plan.swaps)
    assert [row[0] for row in rows[1:]] == sorted(row[0] for row in rows[1:])
    values = json.loads(json.dumps(plan_values(plan), allow_nan=False))
    assert len(values["swaps"]) == len(plan.swaps) and values["costs"][0]["way"] == "this plan"


def test_the_page_shows_every_build_and_swap_and_escapes_what_users_wrote(plan, broken):
    page = plan_page(plan).html()
    assert page.count("<rect") == len(plan.builds)
    assert page.count('<polygon class="swap"') == len(
        plan.swaps[["printer", "build"]].drop_duplicates()
    )
    assert page.count('<section class="card">') == len(plan.swaps)
    odd = plan_page(broken).html()
    assert "<b>post</b>" not in odd and "&lt;b&gt;post" in odd and odd.count("<script") == 1


def test_the_command_writes_each_file_from_the_same_plan(tmp_path, capsys):
    names = {"--csv": "p.csv", "--xlsx": "p.xlsx", "--calendar": "p.ics", "--out": "p.html"}
    options = [part for option, name in names.items() for part in (option, str(tmp_path / name))]
    assert main(["plan", *FILES, *options]) == 0
    assert "without a table" not in capsys.readouterr().out
    table = list(csv.reader(io.StringIO((tmp_path / "p.csv").read_text("utf-8-sig"))))
    book = openpyxl.load_workbook(tmp_path / "p.xlsx")
    assert book.sheetnames == ["Plan", "Not as asked", "Costs"]
    assert book["Plan"].max_row == len(table)
    assert "Swaps between the builds ahead" in (tmp_path / "p.html").read_text()


def test_every_swap_has_its_day_in_the_calendar_and_a_later_plan_updates_it(case, plan):
    """RFC 5545, sections 3.8.4.7 and 3.8.7.4: same UID, higher SEQUENCE replaces."""
    found = entries(plan_calendar(plan))
    assert len(found) == len(plan.swaps)
    days = sorted(one["dtstart"].dt for one in found.values())
    assert days == [day.date() for day in plan.swaps["day"]]
    assert all("interlock" in str(one["description"]) for one in found.values())
    day_before = case.with_(as_of="2026-09-29")
    earlier = build_plan(day_before, hl.read_builds(DEMO / "builds.csv"))
    both = entries(plan_calendar(earlier)).keys() & found.keys()
    assert both
    for name in both:
        assert found[name]["sequence"] > entries(plan_calendar(earlier))[name]["sequence"]


def entries(data):
    return {str(one["uid"]): one for one in icalendar.Calendar.from_ical(data).walk("VEVENT")}


def test_weeks_and_a_table_of_builds_are_not_asked_together(capsys):
    asked = ["plan", *FILES, "--builds", str(DEMO / "builds.csv"), "--weeks", "6"]
    assert main(asked) == 2
    assert "Leave one of the two out" in capsys.readouterr().err
