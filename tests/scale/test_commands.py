"""`headlife evidence` and `headlife pool`, as a person at a terminal meets them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from tests.scale.random_shop import write_parts

from headlife.cli import main
from headlife.life.site_evidence import SiteEvidence
from headlife.life.site_files import read_site
from headlife.scale import cluster, pieces
from headlife.scale.workers import local_workers
from studies.large_fleet import SETTINGS

DEMO = Path(__file__).parents[2] / "data_demo"
RECORDS = [str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]


def written(folder):
    asked = ["--by-site", "--fewest-heads", "5", "--out", str(folder)]
    assert main(["evidence", *RECORDS, *asked]) == 0
    return sorted(folder.iterdir())


def test_a_file_for_each_site_and_the_pool_of_them(tmp_path, capsys):
    files = written(tmp_path / "sites")
    assert len(files) == 2
    capsys.readouterr()
    picture = tmp_path / "sites.svg"
    assert main(["pool", str(tmp_path / "sites"), "--picture", str(picture)]) == 0
    shown = capsys.readouterr().out
    assert "Evidence of 2 sites" in shown
    assert "Each site" in shown
    assert picture.read_text().startswith("<?xml")
    assert main(["pool", *map(str, files), "--json", "--all-only"]) == 0
    answers = json.loads(capsys.readouterr().out)
    everything = read_site(files[0]).strata, read_site(files[1]).strata
    assert answers["strata"][0]["all_sites"]["heads"] == sum(s[0].heads for s in everything)


def test_what_a_mac_leaves_in_a_folder_is_no_evidence(tmp_path, capsys):
    """It was "This is not evidence": a memory stick used on a Mac carries ._ files."""
    written(tmp_path / "sites")
    for name in ("._Mill_Yard.evidence.json", ".DS_Store", "desktop.ini", "~$a.evidence.json"):
        (tmp_path / "sites" / name).write_bytes(b"\0\5\x16\7")
    capsys.readouterr()
    assert main(["pool", str(tmp_path / "sites")]) == 0
    assert "Evidence of 2 sites" in capsys.readouterr().out


def test_no_serial_printer_or_date_of_a_head_leaves_the_house(tmp_path):
    import csv

    with (DEMO / "removals.csv").open() as stream:
        rows = list(csv.DictReader(stream))
    secrets = {row[name] for row in rows for name in ("head", "printer", "date_in")} - {""}
    for path in written(tmp_path / "sites"):
        text = path.read_text()
        assert not [secret for secret in secrets if f'"{secret}"' in text]


def test_the_command_and_the_file_say_what_is_told(tmp_path, capsys):
    place = tmp_path / "a.evidence.json"
    assert main(["evidence", *RECORDS, "--out", str(place)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "no head ran them" in said
    assert "no head ran them" in json.loads(place.read_text())["tells"]
    assert main(["evidence", *RECORDS, "--exact", "--out", str(place)]) == 0
    assert "can work out how long single heads ran" in " ".join(capsys.readouterr().out.split())
    assert json.loads(place.read_text())["format"] == "headlife site evidence 1"


def test_without_out_the_evidence_is_printed(capsys):
    assert main(["evidence", *RECORDS, "--site", "Shown"]) == 0
    assert '"site": "Shown"' in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["evidence", *RECORDS, "--by-site"], "needs --out"),
        (["evidence", *RECORDS, "--fewest-heads", "-1"], "cannot be negative"),
        (["evidence", *RECORDS, "--interval-rows"], "belongs to --exact"),
        (["pool", "nowhere.json"], "nowhere.json does not exist"),
        (["pool", str(DEMO)], "holds no file whose name ends"),
        (["pool", "a.json", "--rated-hours", "1200"], 'written "TYPE=HOURS"'),
        (["pool", "a.json", "--seed", "-1"], "whole number"),
        (["pool", "a.json", "--picture", "b.svg", "--all-only"], "leave out --all-only"),
    ],
)
def test_mistakes_end_with_a_sentence(arguments, message, capsys):
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert message in said
    assert "Traceback" not in said


def test_a_folder_of_files_gives_the_evidence_of_one_table(bureau, tmp_path, capsys):
    settings = tmp_path / "shop.toml"
    settings.write_text(SETTINGS)
    texts = []
    for records in (bureau.parts, bureau.whole):
        assert main(["evidence", str(records), "--shop", str(settings)]) == 0
        texts.append(SiteEvidence.from_json(capsys.readouterr().out))
    parts, whole = texts
    assert parts.as_of == whole.as_of
    for one, other in zip(parts.strata, whole.strata, strict=True):
        assert one.heads == other.heads
        curves = one.modes["wear"].log_curve, other.modes["wear"].log_curve
        np.testing.assert_allclose(*curves, rtol=1e-12, atol=1e-12)


def test_a_folder_is_reviewed_and_checked_as_one_table(tmp_path, capsys, monkeypatch):
    """Of a folder only ratings and spares were told; now the words of a table are."""
    (tmp_path / "logs").mkdir()
    table = pd.read_csv(DEMO / "removals.csv", dtype=str)
    table.loc[3, "printer"] = table.loc[3, "printer"].upper()
    write_parts(tmp_path / "logs", table, 3)
    table.to_csv(tmp_path / "all.csv", index=False)
    monkeypatch.chdir(tmp_path)
    shop = ["--shop", str(DEMO / "shop.toml")]

    def told(*arguments):
        assert main([*arguments, *shop]) == 0
        said = " ".join(capsys.readouterr().out.split())
        return said.replace("part_0.csv, part_1.csv and part_2.csv", "all.csv")

    answers = told("review", "all.csv")
    assert told("review", "logs") == answers
    assert told("evidence", "logs", "--answers", "--out", "e.json").endswith(answers)
    assert "differ only in capitals" in told("check", "all.csv", "--no-files")
    doubts = told("check", "logs")
    assert "two spellings" in doubts and "4 of part_0.csv" in doubts
    assert {one.name for one in tmp_path.glob("logs.check.*")} == {
        "logs.check.csv",
        "logs.check.xlsx",
    }
    assert sorted(one.name for one in (tmp_path / "logs").iterdir())[-1] == "part_2.csv"
    assert main(["review", "logs", *shop, "--out", "logs/part_1.csv"]) == 2
    assert "would overwrite the input" in capsys.readouterr().err


@pytest.mark.parametrize("parts", [False, True])
def test_columns_without_a_name_in_a_folder_are_named(bureau, tmp_path, capsys, request, parts):
    """A table and a folder of files passed over them without a word."""
    if parts:
        request.getfixturevalue("too_large")
    (tmp_path / "logs").mkdir()
    for number, rows in enumerate((bureau.table[:1500], bureau.table[1500:3000])):
        rows = rows.assign(mark=["checked", *[""] * 1499]) if number else rows
        name = {"mark": ""}
        rows.rename(columns=name).to_csv(tmp_path / "logs" / f"part_{number}.csv", index=False)
    (tmp_path / "shop.toml").write_text(SETTINGS.replace("draws = 20000", "draws = 200"))
    shop = ["--shop", str(tmp_path / "shop.toml"), "--answers"]
    assert main(["evidence", str(tmp_path / "logs"), *shop, "--out", str(tmp_path / "e")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Not read: part_1.csv: column K, which has no name (1 cell)." in said


def test_no_cluster_at_an_address_is_a_sentence(bureau, tmp_path, capsys):
    settings = tmp_path / "shop.toml"
    settings.write_text(SETTINGS)
    asked = ["--shop", str(settings), "--scheduler", "nonsense://here"]
    assert main(["evidence", str(bureau.parts), *asked]) == 2
    assert "no Dask cluster at 'nonsense://here'" in capsys.readouterr().err
    assert main(["evidence", str(bureau.whole), *asked]) == 2
    assert "a single table needs none" in capsys.readouterr().err


@pytest.fixture
def too_large(monkeypatch):
    """Let every folder be too large for one table."""
    for room in (pieces, cluster):
        monkeypatch.setattr(room, "ROWS_OF_A_TABLE", 2_000)


@pytest.mark.usefixtures("too_large")
def test_workers_of_this_machine_give_the_same_evidence_and_the_answers(bureau, tmp_path, capsys):
    settings = tmp_path / "shop.toml"
    settings.write_text(SETTINGS)
    folder = ["evidence", str(bureau.parts), "--shop", str(settings)]
    assert main(folder) == 0
    alone = capsys.readouterr().out
    out = tmp_path / "bureau.evidence.json"
    assert main([*folder, "--workers", "1", "--answers", "--out", str(out)]) == 0
    assert out.read_text() == alone
    shown = " ".join(capsys.readouterr().out.split())
    assert "rows read from 5 files, all used Left out: Lives were reduced" in shown
    assert "of heads reach 1,200 h" in shown
    assert "What to do" in shown and "Which heads to watch?" in shown
    assert main([*folder, "--by-site", "--out", str(tmp_path / "sites")]) == 2
    assert "--by-site needs a single table" in capsys.readouterr().err


def test_two_clusters_on_one_machine_do_not_meet():
    # A port that is taken is a warning, and warnings are errors here.
    with local_workers(1) as one, local_workers(1) as other:
        assert one.submit(sum, [1, 2]).result() + other.submit(sum, [3]).result() == 6


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--workers", "0"], "workers is 1 or more; got 0"),
        (["--workers", "1", "--scheduler", "tcp://here:1"], "Name a cluster"),
        (["--answers"], "needs --out"),
        (["--by-site", "--out", "there"], "has no site; fill in the column site"),
    ],
)
def test_mistakes_about_a_folder_end_with_a_sentence(bureau, tmp_path, more, message, capsys):
    settings = tmp_path / "shop.toml"
    settings.write_text(SETTINGS)
    assert main(["evidence", str(bureau.parts), "--shop", str(settings), *more]) == 2
    assert message in capsys.readouterr().err


def test_an_encrypted_address_without_its_parts_is_a_sentence(bureau, tmp_path, capsys):
    settings = tmp_path / "shop.toml"
    settings.write_text(SETTINGS)
    address = ["--scheduler", "tls://127.0.0.1:1"]
    assert main(["evidence", str(bureau.parts), "--shop", str(settings), *address]) == 2
    assert "There is no Dask cluster at 'tls://127.0.0.1:1'" in capsys.readouterr().err
